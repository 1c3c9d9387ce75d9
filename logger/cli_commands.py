"""Every command's words: what it is for and which arguments it takes. Loads nothing that a command needs."""

from __future__ import annotations

TYPE_CHECKING = False
if TYPE_CHECKING:  # loaded for --help too, so nothing is imported that only the checker of types needs
    import argparse
    from collections.abc import Callable

    Command = Callable[..., argparse.ArgumentParser]
    """Adds one command: name, help text, and whether it takes ``--json`` and ``--units``."""

CORRECTIONS = (
    "assign", "offset", "scale", "refrigerant", "barometer", "fluid", "load_fluid", "source_coil",
    "mode", "phase",
)  # fmt: skip


def _add_demo(command: Command) -> None:
    demo = command("demo", "a simulated machine, recorded through the real path, analysed and verified")
    demo.add_argument(
        "--story", choices=("hall", "bakery", "night"), default="hall", help="which site (default hall)"
    )
    demo.add_argument("--no-gui", action="store_true", help="stay in the terminal")
    demo.add_argument("--out", metavar="DIR", help="folder for the sessions (a new one inside it each time)")
    demo.add_argument("--seconds", type=float, metavar="N", help="run the machine live for N seconds")


def _add_recording(command: Command) -> None:
    record = command("record", "record a session from the devices that a set-up names", json=False)
    record.add_argument("setup", metavar="SETUP.toml")
    record.add_argument("--out", metavar="DIR", required=True, help="folder of the new session")
    record.add_argument("--for", dest="length", metavar="10m", help="stop after this time (s, m or h)")
    record.add_argument("--quiet", action="store_true", help="no live table")
    _add_watch(record)
    morning = command("morning", "what happened over night: stops, what moved before, dropouts", units=False)
    morning.set_defaults(module="logger.morning")
    morning.add_argument("session", metavar="SESSION")
    replay = command("replay", "play a session again as if it were live", json=False)
    replay.add_argument("session", metavar="SESSION")
    replay.add_argument("--speed", type=float, default=60.0, metavar="X", help="times real time (default 60)")


def _add_watch(record: argparse.ArgumentParser) -> None:
    """Add what a recording over night needs."""
    record.add_argument(
        "--watch", nargs="?", const="", metavar="WATCH.toml",
        help="keep one reading a second, and all of them around what happens",
    )  # fmt: skip
    record.add_argument("--status", metavar="FILE", help="a JSON file that says each minute how it stands")


def _add_import(command: Command) -> None:
    read = command("import", "a foreign CSV or spreadsheet becomes a session", units=False)
    read.set_defaults(module="logger.commands.import_")
    read.add_argument(
        "file", metavar="FILE", nargs="+", help=".csv, .csv.gz, .xls, .xlsx; several are merged"
    )
    read.add_argument("--map", metavar="MAP.toml", help="what the columns are")
    read.add_argument("--out", metavar="DIR", help="folder of the new session (with --draft: the new map)")
    read.add_argument("--draft", action="store_true", help="look at a file and propose its map")


def _add_sessions(command: Command) -> None:
    analyse = command("analyse", "work out what a session's readings mean")
    analyse.add_argument("session", metavar="SESSION")
    correct = command(
        "correct",
        "put a wrong assignment, offset, refrigerant or barometer right; readings stay as they are",
        json=False,
        units=False,
    )
    correct.add_argument("session", metavar="SESSION")
    correct.add_argument("kind", choices=CORRECTIONS)
    correct.add_argument("text", help="what holds, for assign a measuring point")
    correct.add_argument("--channel", default="", help="for assign, offset and scale")
    correct.add_argument(
        "--from", dest="since", default="0s", metavar="0s", help="from which moment of the session on"
    )
    verify = command("verify", "check a session's files for damage", units=False)
    verify.add_argument("session", metavar="SESSION")
    recover = command("recover", "mend a session that was broken off; the original is kept", units=False)
    recover.add_argument("session", metavar="SESSION")
    recheck = command("recheck", "work everything out again and compare with what was shown")
    recheck.add_argument("session", metavar="SESSION")
    export = command("export", "write a session as one wide table on a grid", json=False, units=False)
    export.add_argument("session", metavar="SESSION")
    export.add_argument("--out", metavar="FILE", required=True, help="ends in .csv, .parquet or .xlsx")
    export.add_argument("--every", default="1s", metavar="1s", help="step of the grid")
    export.add_argument("--spreadsheet", action="store_true", help="CSV with decimal comma and semicolon")
    export.add_argument(
        "--names", choices=("channel", "point"), default="channel", help="how columns are named"
    )


def _add_compare(command: Command) -> None:
    compare = command("compare", "compare two sessions: as found against as left, if that is fair")
    compare.add_argument("as_found", metavar="A", help="session as found")
    compare.add_argument("as_left", metavar="B", help="session as left")
    report = command(
        "report", "write a report (HTML or PDF) about a session, or about two that are compared", json=False
    )
    report.add_argument("as_found", metavar="A", help="session, as found where there are two")
    report.add_argument("as_left", metavar="B", nargs="?", help="session as left")
    report.add_argument(
        "--for", dest="reader", choices=("technician", "owner", "office"), default="technician",
        help="who reads it (default technician)",
    )  # fmt: skip
    report.add_argument("--out", metavar="FILE", required=True, help="page to write: .html or .pdf")
    report.add_argument("--visit", default="", metavar="FILE", help="visit record (default: the visit.toml)")
    report.add_argument("--paper", choices=("a4", "letter"), default="a4", help="page size (default a4)")
    for sub in (compare, report):
        sub.add_argument("--card", default="", metavar="FILE", help="the machine's unit card, for its limits")
        sub.add_argument(
            "--between",
            default="",
            metavar="C",
            help="session between two repairs (water put right)",
        )
        sub.add_argument(
            "--phase-found", default="", metavar="PHASE", help="take A's stretch from this phase"
        )
        sub.add_argument("--phase-left", default="", metavar="PHASE", help="take B's stretch from this phase")


def _add_history(command: Command) -> None:
    mark = command("mark", "note a moment of a session afterwards", json=False, units=False)
    mark.add_argument("session", metavar="SESSION")
    mark.add_argument("text", metavar="TEXT", help="what was seen or done")
    mark.add_argument("--at", required=True, metavar="0:42:00", help="session time, h:mm:ss")
    alarms = command("alarms", "what had to be acted on within minutes; acknowledge or shelve it afterwards")
    alarms.add_argument("session", metavar="SESSION")
    alarms.add_argument("--card", metavar="FILE", help="unit card (default the session's own)")
    acts = alarms.add_mutually_exclusive_group()
    acts.add_argument("--acknowledge", metavar="ALARM", help="note that it was seen")
    acts.add_argument("--shelve", metavar="ALARM", help="let it wait; it comes back by itself")
    acts.add_argument("--unshelve", metavar="ALARM", help="let it come back now")
    alarms.add_argument("--for", dest="length", default="30m", metavar="30m", help="how long it is shelved")
    alarms.add_argument("--reason", default="", metavar="TEXT", help="why it may wait")
    alarms.add_argument("--at", default="", metavar="0:42:00", help="session time (default the end)")
    strip = command(
        "strip", "copy a session for sharing: no names, places, serials, notes or photos", json=False,
        units=False,
    )  # fmt: skip
    strip.add_argument("session", metavar="SESSION")
    strip.add_argument("--out", metavar="DIR", required=True, help="folder of the copy")
    history = command("history", "the sessions of one machine over time, at like conditions")
    history.add_argument("folder", metavar="FOLDER", help="holds the sessions, in folders below it too")
    fleet = command("fleet", "summarise many sessions and ask them with SQL", units=False)
    fleet.add_argument("folder", metavar="FOLDER", help="holds the sessions, in folders below it too")
    fleet.add_argument("--sql", default="", metavar="SQL", help="a query on the table 'summary'")
    fleet.add_argument(
        "--columns", action="store_true", help="name the columns of 'summary', with their units"
    )
    fleet.add_argument("--summary", default="", metavar="FILE", help="summary (.parquet) to keep up to date")
    fleet.add_argument("--workers", type=int, default=0, metavar="N", help="processes (default: all cores)")
    fleet.add_argument("--scheduler", default="", metavar="ADDRESS", help="of a running dask scheduler")


def _add_calculators(command: Command) -> None:
    sat = command("sat", "saturation of a refrigerant at a pressure or temperature")
    sat.add_argument("refrigerant", metavar="REFRIGERANT", help="for example R410A")
    sat.add_argument("amount", metavar="VALUE", help="with its unit: 118psig, 8.1bar(a), 4.0degC")
    sat.add_argument(
        "--barometer", default="", metavar="P", help="local pressure or altitude: '94.3 kPa(a)', '600 m'"
    )

    sat.add_argument("--u", metavar="U", help="uncertainty (k = 2) of VALUE, as '0.1 bar' or '1 %%'")
    water = command("water", "properties of a loop liquid, flow from a timed container, heat moved")
    water.add_argument("fluid", metavar="FLUID", help="water, 'propylene_glycol 25 %% mass', ...")
    water.add_argument("--in", dest="entering", metavar="T", help="entering temperature, as 4.0degC")
    water.add_argument("--out", dest="leaving", metavar="T", help="leaving temperature")
    water.add_argument("--flow", metavar="Q", help="as 0.60L/s or 9gpm")
    water.add_argument("--container", metavar="V", help="volume that was filled, as 5gal")
    water.add_argument("--seconds", type=float, nargs="+", metavar="S", help="how long each run took")
    water.add_argument(
        "--u-temperature",
        metavar="U",
        help="uncertainty (k = 2) of each thermometer, as '0.2 K' (1 K assumed)",
    )
    water.add_argument("--u-flow", metavar="U", help="of the flow (k = 2), as '3 %%' (default 6 %%)")
    air = command("air", "state of moist air")
    air.add_argument("dry_bulb", metavar="DRY_BULB", help="as 80degF")
    air.add_argument("--wet-bulb", metavar="T")
    air.add_argument("--humidity", metavar="RH", help="as 50%%")
    air.add_argument("--dew-point", metavar="T")
    air.add_argument("--barometer", default="", metavar="P", help="local pressure or altitude: '600 m'")
    air.add_argument(
        "--u-temperature", metavar="U", help="uncertainty (k = 2) of each thermometer (default 1 K)"
    )
    air.add_argument("--u-humidity", metavar="U", help="of --humidity (k = 2), in points (default 4 %%)")


def _add_match(command: Command) -> None:
    match = command("match", "offsets of probes that stand in one cup, or of gauges open to the air (--zero)")
    match.add_argument("source", metavar="SESSION|SETUP.toml", help="a stored session, or devices to watch")
    match.add_argument("--zero", action="store_true", help="gauges, off the machine and open to the air")
    match.add_argument(
        "--reference", default="mean", metavar="CHANNEL",
        help="the probe that is right, 'ice' for stirred ice water, or 'mean' of all (default)",
    )  # fmt: skip
    match.add_argument(
        "--channels", nargs="+", metavar="CHANNEL", help="which take part (default those of water and pipes)"
    )
    match.add_argument("--without", nargs="+", metavar="CHANNEL", help="which are left out")
    match.add_argument(
        "--from", dest="since", default="", metavar="0:01:00", help="of a session: since when they stood so"
    )
    match.add_argument("--to", dest="upto", default="", metavar="0:03:00", help="of a session: until when")
    match.add_argument("--for", dest="length", default="3m", metavar="3m", help="of a set-up: at most")
    match.add_argument("--out", metavar="DIR", help="of a set-up: keep what is recorded in a new session")
    match.add_argument("--apply", action="store_true", help="write the offsets to the session or set-up")
    match.add_argument(
        "--hold-from", default="0s", metavar="0s", help="moment of the session from which they then hold"
    )


def _add_devices(command: Command) -> None:
    scan = command("scan", "look for devices; sends nothing to a device that is not known", units=False)
    scan.add_argument("--for", dest="length", default="8s", metavar="8s")
    text = "watch an unknown instrument's lines and draft a profile"
    learn = command("learn", text, json=False, units=False)
    learn.add_argument("address", metavar="PORT", help="as /dev/ttyUSB0, COM4, socket://HOST:PORT")
    learn.add_argument("--baud", type=int, default=9600)
    learn.add_argument("--for", dest="length", default="10s", metavar="10s")


def _add_typed(command: Command) -> None:
    electrical = command(
        "electrical", "a dead machine: where volts are lost, shorts, motors (typed in a file or a form)",
        units=False,
    )  # fmt: skip
    electrical.add_argument(
        "file",
        metavar="FILE.toml|SESSION",
        nargs="?",
        help="what was read, or typed beside a session; without it a form asks",
    )
    electrical.add_argument("--plate", default="", metavar="V", help="plate voltage, for a SESSION: 230V")
    electrical.add_argument("--save", metavar="FILE.toml", help="keep what the form was told")
    typed = command("typed", "a visit with plain gauges: superheat and more from typed readings")
    typed.add_argument("refrigerant", metavar="REFRIGERANT", nargs="?", default="", help="for example R410A")
    for name, metavar, text in (
        ("suction", "P", "suction pressure, 5.2bar(g)"), ("line", "T", "suction line, -2.4degC"),
        ("high", "P", "high side pressure"), ("liquid", "T", "liquid line"),
        ("discharge", "T", "discharge line"), ("water-in", "T", "source water in"),
        ("water-out", "T", "source water out"), ("drop", "P", "source coil pressure drop, 10kPa"),
        ("flow", "Q", "source flow, 0.60L/s"), ("load-in", "T", "load water in"),
        ("load-out", "T", "load water out"), ("volts", "V", "supply at the compressor"),
        ("amps", "A", "compressor current"),
    ):  # fmt: skip
        typed.add_argument(f"--{name}", metavar=metavar, default="", help=text)
    typed.add_argument("--power-factor", default="", metavar="X", help="of the compressor (0.90 assumed)")
    typed.add_argument("--rated", default="", metavar="Q", help="heat of source water by the card, 9.3kW")
    typed.add_argument("--flow-band", default="", metavar="Q", help="by the card: '0.55 to 0.65 L/s'")
    typed.add_argument("--fluid", default="", metavar="TEXT", help="'water', 'propylene_glycol 25 %% mass'")
    typed.add_argument("--mode", choices=("heating", "cooling"), default="", help="what is called for")
    typed.add_argument("--barometer", default="", metavar="P", help="'94.3 kPa(a)', or altitude: '600 m'")
    typed.add_argument("--coil", default="", metavar="TEXT", help="rated: '0.60 L/s at 28.8 kPa'")
    typed.add_argument("--gauge-class", default="", metavar="X", help="percent of the span (1.0 assumed)")
    typed.add_argument("--clamp", default="", metavar="T", help="error of thermometers, 0.5K (1 K assumed)")
    typed.add_argument(
        "--water-matched", default="", metavar="T", help="water thermometers compared in one cup, 0.2K"
    )
    typed.add_argument("--who", default="", metavar="NAME", help="who reads")
    typed.add_argument("--out", metavar="DIR", help="folder of a new session that keeps the rows")


def _add_checks(command: Command) -> None:
    check = command("check-profile", "check a device profile and run its own examples", units=False)
    check.add_argument("profile", metavar="FILE", help="a .toml file, or the name of a shipped profile")
    check.add_argument("--bytes", dest="payload", metavar="HEX", help="decode these bytes with it")


def _add_verdict(command: Command) -> None:
    findings = command("findings", "what the readings support, with evidence for, against and missing")
    proofs = command("proofs", "try the stated tests, the water first: met, not met, cannot say")
    for sub in (findings, proofs):
        sub.add_argument("visit", metavar="SESSION|CASE.toml", help="a session folder or a typed visit")
        sub.add_argument("--card", metavar="FILE", help="unit card (default the session's own)")
        sub.add_argument("--reference", metavar="SESSION|CASE.toml", help="a healthy run of this machine")
    proofs.add_argument(
        "--record", metavar="FILE", help="the visit's record (default the visit.toml beside the session)"
    )
    proofs.add_argument(
        "--tests", metavar="CASE.toml", help="pressure tests that were typed: nitrogen, vacuum, liquid"
    )
    proofs.add_argument("--as-left", metavar="SESSION|CASE.toml", help="proves the run-in against it")
    check = command("check-card", "check a unit card: order, arithmetic, freezing", units=False)
    check.add_argument("card", metavar="FILE", help="the unit card (.toml)")
    expect = command("expect", "what a machine should show at an entering water: a sheet for the visit")
    expect.add_argument("card", metavar="CARD", help="the unit card (.toml)")
    expect.add_argument("--ewt", required=True, metavar="T", help="entering source water, as 6degC")
    expect.add_argument("--load-ewt", metavar="T", help="entering load water or return air, as 30degC")
    expect.add_argument("--flow", metavar="Q", help="source flow, as 0.60L/s (default the card's band)")
    expect.add_argument("--mode", choices=("heating", "cooling"), help="default: those on the card")
    expect.add_argument(
        "--reference", metavar="SESSION|CASE.toml",
        help="a healthy run of this machine; goes before the card where entering temperatures are within 3 K",
    )  # fmt: skip
    expect.add_argument(
        "--barometer", default="", metavar="P", help="local pressure or altitude: '94.3 kPa(a)', '600 m'"
    )
    expect.add_argument("--out", metavar="FILE", help="page to print: .html or .pdf, with room for readings")
    expect.add_argument("--paper", choices=("a4", "letter"), default="a4", help="page size (default a4)")


def _add_desktop(command: Command) -> None:
    looks = ("dark", "sun", "night")
    desktop = command("desktop", "the window: a stored session, a set-up, or a visit to begin", json=False)
    desktop.add_argument("session", metavar="SESSION", nargs="?", help="default: set a visit up, or choose")
    desktop.add_argument("--setup", metavar="SETUP.toml", help="record the devices of a set-up, live")
    desktop.add_argument("--typed", metavar="REFRIGERANT", help="a visit with plain gauges, typed here")
    desktop.add_argument(
        "--electrical",
        metavar="FILE.toml",
        help="a dead machine: volts and ohms typed here, kept in the file",
    )
    desktop.add_argument("--out", metavar="DIR", help="folder of the new session")
    _add_watch(desktop)
    desktop.add_argument("--mode", choices=("heating", "cooling"), help="of the typed visit")
    desktop.add_argument("--barometer", metavar="P", help="of the typed visit: '94.3 kPa(a)', '600 m'")
    desktop.add_argument("--fluid", metavar="TEXT", help="of the typed visit: 'propylene_glycol 25 %% mass'")
    shot = command("shot", "one view as a picture, or all views audited")
    views = (
        "levels", "far", "trends", "compare", "devices", "electrical", "shorts", "typed", "session", "report",
        "cycle", "find",
    )  # fmt: skip
    shot.add_argument("view", nargs="?", choices=views, metavar="VIEW", help=", ".join(views))
    shot.add_argument("session", metavar="SESSION", nargs="?")
    shot.add_argument("--scene", metavar="NAME", help="a made-up moment instead of a session")
    shot.add_argument("--at", metavar="0:42:00", help="moment of the session (default its end)")
    shot.add_argument("--size", default="1280x800", metavar="WxH")
    shot.add_argument("--out", metavar="F.png")
    shot.add_argument("--audit", action="store_true", help="look through every view for faults")
    for sub in (desktop, shot):
        sub.add_argument("--card", metavar="FILE", help="unit card for the bands (default the session's own)")
        sub.add_argument("--with", dest="other", metavar="B", help="session as left, for the compare view")
        sub.add_argument("--between", metavar="C", help="session between two repairs, for the compare view")
        sub.add_argument("--look", choices=looks, default="dark", help="colours (default dark)")


ADD_COMMANDS: tuple[Callable[[Command], None], ...] = (
    _add_demo,
    _add_devices,
    _add_recording,
    _add_import,
    _add_sessions,
    _add_match,
    _add_compare,
    _add_history,
    _add_verdict,
    _add_calculators,
    _add_typed,
    _add_checks,
    _add_desktop,
)
"""In the order of the help."""
