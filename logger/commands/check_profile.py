"""``evenrun check-profile``: check a device profile and run its own examples."""

from __future__ import annotations

import argparse
import json

from drivers.base import ProfileError, ProfileMissingError
from drivers.profile import find_profile
from drivers.profile_check import check_profile
from logger.errors import DONE, FAULTS_FOUND, CommandError, DamagedInputError, NotAvailableError


def run(args: argparse.Namespace) -> int:
    """Print what is wrong, or what the bytes mean."""
    try:
        payload = bytes.fromhex(args.payload) if args.payload else None
    except ValueError:
        raise CommandError("--bytes needs pairs of hexadecimal digits, as 6608.") from None
    try:
        profile = find_profile(args.profile)
        report = check_profile(profile, payload)
    except ProfileMissingError as refused:
        raise NotAvailableError(str(refused)) from None
    except ProfileError as refused:
        raise DamagedInputError(str(refused)) from None
    if args.json:
        found = {"passed": report.passed, "failures": report.failures}
        found |= {"decoded": report.decoded, "remarks": report.remarks}
        print(json.dumps({"profile": profile.name} | found))
    else:
        head = f"{profile.title}: {len(profile.channel)} channels, {report.passed} examples come out right."
        print("\n".join([head, *report.failures, *report.decoded, *report.remarks]))
    return DONE if report.good else FAULTS_FOUND
