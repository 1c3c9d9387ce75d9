"""Setting up a visit by touch: which devices are taken, what is declared, which channel feeds what."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, cast

from analysis.points import POINTS
from analysis.presets import PresetName, duration
from analysis.saturation import names
from drivers.base import Found
from drivers.profile import shipped_profiles
from logger.desktop.find_page import (
    FindPage,
    Row,
    channel_offers,
    found_row,
    kind_words,
    link_words,
    taken_row,
)
from logger.desktop.key_page import Offer
from logger.desktop.remembered import own_profiles
from logger.desktop.scene_find import KEYS
from logger.desktop.session_desk import FIRST_REFRIGERANTS, LIQUIDS
from logger.errors import CommandError
from logger.listening import Listening
from logger.scanning import Scan
from logger.shown_values import plain
from logger.visit_plan import Mode, VisitPlan, lacks_profile, offered, profile_title

_CLOSED: dict[str, Any] = {"question": "", "offers": (), "page": 0}
_NO_DEVICE = "typed_gauges"
"""A shipped profile that no instrument speaks."""


class Finding:
    """What is being chosen on the page.

    Parameters
    ----------
    scan
        Looks for devices and listens to those that were taken.
    preset
        Units in which their readings are shown.
    plan
        What is known before anything was touched.
    """

    def __init__(self, scan: Scan, preset: PresetName, plan: VisitPlan) -> None:
        self.scan = scan
        self.plan = plan
        self._preset = preset
        self._page = FindPage()
        self._order: list[Found | str] = []
        """Devices in their places: one that was found, or the name of one that was taken unseen."""
        self._asked: Found | None = None
        """The device that waits for its profile."""
        self._channel = ""
        self._list, self._at = "", 0
        """What is offered for choosing, and the page of the channels to go back to."""

    def page(self) -> FindPage:
        """Give what is shown now."""
        now, heard = self.scan.clock(), self.listening()
        channels = [c for name in self.plan.devices for c in offered(heard.get(name))]
        fed = set(self.plan.assign(heard).values())
        return replace(
            self._page,
            rows=self._rows(now),
            looking=self._looking_words(now),
            still_looking=self.scan.looking,
            troubles=tuple(dict.fromkeys(plain(trouble.sentence) for trouble in self.scan.troubles)),
            refrigerants=_refrigerants()[:KEYS],
            refrigerant=self.plan.refrigerant,
            mode=self.plan.mode,
            fluid=self.plan.fluid.replace("_", " "),
            joined=sum(channel.id in fed for channel in channels),
            channels=len(channels),
            taken=len(self.plan.devices),
            waiting=self._waiting(now),
            offers=self._channels() if self._list == "channels" else self._page.offers,
        )

    def listening(self) -> dict[str, Listening]:
        """Give what is listened to, by the device's name."""
        return dict(self.scan.listening)

    def _rows(self, now: float) -> tuple[Row, ...]:
        seen = {(s.found.kind, s.found.address): s for s in self.scan.seen}
        self._place([s.found for s in seen.values()])
        rows = []
        for number, one in enumerate(self._order):
            act = f"visit take {number}"
            if isinstance(one, str):
                rows.append(self._unseen_row(one, now, act))
            elif name := self.plan.named(one):
                heard = self.scan.listening.get(name)
                carried = kind_words(one.kind, one.address)
                rows.append(taken_row(name, one.label or one.address, carried, heard, now, act))
            else:
                rows.append(found_row(seen[one.kind, one.address], now, act))
        return tuple(rows)

    def _unseen_row(self, name: str, now: float, act: str) -> Row:
        """Write a device of the visit before that no look has found, such as one on the network."""
        device = self.plan.devices.get(name)
        if device is None:
            return Row(name, "given back: look again to find it", act)
        carried = kind_words(device.kind, device.address) if device.kind else ""
        return taken_row(name, device.address, carried, self.scan.listening.get(name), now, act)

    def _place(self, found: list[Found]) -> None:
        """Give each device a place of its own that it keeps."""
        known = {(one.kind, one.address) for one in self._order if not isinstance(one, str)}
        for one in found:
            if (one.kind, one.address) not in known and self.plan.named(one) not in self._order:
                self._order.append(one)
        shown = {one if isinstance(one, str) else self.plan.named(one) for one in self._order}
        self._order += [name for name in self.plan.devices if name not in shown]

    def _waiting(self, now: float) -> str:
        for name in self.plan.devices:
            listening = self.scan.listening.get(name)
            if listening is None or not listening.heard():
                return f"{name}: {plain(link_words(listening, now)[0])}"
        return ""

    def _looking_words(self, now: float) -> str:
        left = self.scan.until_s - now
        if self.scan.looking:
            return f"looking, {left:.0f} s more" if left > 1.0 else "looking"
        return f"looked {duration(max(-left, 0.0))} ago"

    def _channels(self) -> tuple[Offer, ...]:
        heard = self.listening()
        points = {channel: point for point, channel in self.plan.assign(heard).items()}
        known = [c for name in self.plan.devices for c in offered(heard.get(name))]
        return channel_offers(list(heard.values()), points, self._preset, known)

    def act(self, name: str, rest: str) -> bool:
        """Do what a touch asks for; gives whether it was one of this page's acts.

        Raises
        ------
        CommandError
            If it cannot be done; one sentence with the way out.
        """
        match name:
            case "take":
                self._take(int(rest))
            case "profile":
                if self._asked is not None:
                    self._took(self._asked, rest)
                self._back()
            case "refrigerant" | "fluid" | "mode":
                self._declare(name, rest)
            case "list":
                self._offer_list(rest)
            case "channels":
                self._show_channels()
            case "channel":
                self._offer_points(rest)
            case "point":
                self.plan = self.plan.join(self._channel, rest, self.plan.assign(self.listening()))
                self._show_channels(self._at)
            case "back":
                self._back()
            case "turn":
                self._page = replace(self._page, page=self._page.page + 1)
            case "again":
                self.scan.again()
            case _:
                return False
        return True

    def adopt(self, plan: VisitPlan) -> None:
        """Take the devices and declarations of another plan instead of these.

        Raises
        ------
        CommandError
            If one of its devices cannot be read; then nothing is changed.
        """
        before = self.plan
        for device in plan.devices.values():
            self.scan.hear(device)
        for name in set(before.devices) - set(plan.devices):
            self.scan.leave(name)
        self.plan = replace(plan, card_text=before.card_text or plan.card_text)

    def _take(self, number: int) -> None:
        """Take a device, or give it back; ask for its profile where that is not known, or was wrong."""
        one = self._order[number]
        name = one if isinstance(one, str) else self.plan.named(one)
        listening = self.scan.listening.get(name)
        wrong = listening is not None and listening.misread
        if name in self.plan.devices:
            self.plan = self.plan.leave(name)
            self.scan.leave(name)
            if not wrong:
                return
        if isinstance(one, str):
            return
        if wrong or lacks_profile(one):
            self._asked = one
            known = (*one.profiles, *own_profiles(), *(p for p in shipped_profiles() if p != _NO_DEVICE))
            offers = tuple(
                Offer(profile_title(p), f"visit profile {p}", Path(p).name) for p in dict.fromkeys(known)
            )
            self._ask("profile", f"which profile does {plain(one.label or one.address)} speak?", offers)
        else:
            self._took(one, "")

    def _took(self, found: Found, profile: str) -> None:
        plan, device = self.plan.take(found, profile)
        self.scan.hear(device)  # refused before it counts as taken
        self.plan = plan

    def _declare(self, kind: str, text: str) -> None:
        """Declare; a second touch takes refrigerant and mode back."""
        if kind == "refrigerant":
            self.plan = replace(self.plan, refrigerant="" if text == self.plan.refrigerant else text)
        elif kind == "mode":
            self.plan = replace(self.plan, mode=cast("Mode", "" if text == self.plan.mode else text))
        else:
            self.plan = replace(self.plan, fluid=text)
        if self._list:
            self._back()

    def _offer_list(self, kind: str) -> None:
        lists = {
            "refrigerant": ("which refrigerant is in the machine?", _refrigerants()),
            "fluid": ("what flows in the source circuit?", LIQUIDS),
        }
        question, choices = lists[kind]
        offers = tuple(Offer(text.replace("_", " "), f"visit {kind} {text}") for text in choices)
        self._ask(kind, question, offers)

    def _show_channels(self, page: int = 0) -> None:
        if not self._channels():
            raise CommandError("No channel has spoken yet: take a device, and give it a moment.")
        self._ask("channels", "touch the channel that feeds another measuring point", ())
        self._page = replace(self._page, page=page)

    def _offer_points(self, channel: str) -> None:
        """Offer the measuring points of a channel's quantity; the free ones first."""
        heard = self.listening()
        known = next((c for one in heard.values() for c in one.channels if c.id == channel), None)
        if known is None:
            return
        held = self.plan.assign(heard)
        fitting = sorted(
            (p for p in POINTS.values() if p.accepts(known.quantity)), key=lambda p: p.name in held
        )
        offers = tuple(
            Offer(p.label, f"visit point {p.name}", _fed(held, p.name), held.get(p.name) == channel)
            for p in fitting
        )
        none = Offer("no measuring point", "visit point ", "it is stored all the same")
        self._channel, self._at = channel, self._page.page
        self._ask("point", f"which measuring point does {plain(channel)} feed?", (*offers, none))

    def _ask(self, kind: str, question: str, offers: tuple[Offer, ...]) -> None:
        self._list = kind
        self._page = replace(self._page, question=question, offers=offers, page=0)

    def _back(self) -> None:
        """Go back to the page before: from measuring points to channels, else to the devices."""
        if self._list == "point":
            self._show_channels(self._at)
            return
        self._list, self._asked = "", None
        self._page = replace(self._page, **_CLOSED)


def _refrigerants() -> tuple[str, ...]:
    return tuple(dict.fromkeys((*FIRST_REFRIGERANTS, *names())))


def _fed(held: Mapping[str, str], point: str) -> str:
    return f"now {plain(held[point])}" if point in held else ""
