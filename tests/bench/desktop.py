"""The window against its peers, in one run: ``python -m tests.bench.desktop``.

Time to the first paint against an empty window of the plotting library, the levels view against its own
painting, and a day of readings in twenty lanes against that library with its best settings. Off-screen,
software raster.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import time
from collections.abc import Callable

import numpy as np

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

_EMPTY = """
import pyqtgraph
app = pyqtgraph.mkQApp()
shown = pyqtgraph.PlotWidget()
shown.resize(1280, 800)
shown.show()
app.processEvents()
shown.grab()
"""
_OURS = """
from PySide6.QtWidgets import QApplication
app = QApplication([])
from logger.desktop.history import History
from logger.desktop.present import Present
from logger.desktop.window import Window
class Nothing:
    recording, finished, notice, events, history = False, True, "", [], History(keep_rows=False)
    def present(self): return Present(title="nothing yet")
shown = Window(Nothing())
shown.show()
app.processEvents()
shown.grab()
"""
CURVES, SAMPLES, WIDTH, HEIGHT = 20, 864_000, 1280, 720


def _median_ms(call: Callable[[int], object], times: int = 9) -> float:
    call(0)
    taken = []
    for number in range(1, times + 1):
        began = time.perf_counter()
        call(number)
        taken.append(time.perf_counter() - began)
    return statistics.median(taken) * 1e3


def _start_ms(code: str) -> float:
    def run(_: int) -> None:
        subprocess.run([sys.executable, "-c", code], check=True, env=os.environ)

    return _median_ms(run, 5)


def _series() -> list[np.ndarray]:
    rng = np.random.default_rng(1)
    made = []
    for number in range(CURVES):
        slow = np.cumsum(rng.normal(0.0, 0.01, SAMPLES // 100)).repeat(100)
        made.append(np.round(slow + rng.normal(0.0, 0.05, SAMPLES) + number, 1))
    return made


def _plot_library(series: list[np.ndarray]) -> tuple[float, float]:
    """Pan and live update of the plotting library: peak downsampling and clipping, set after adding."""
    import pyqtgraph
    from PySide6.QtGui import QImage, QPainter

    pyqtgraph.mkQApp()
    plot = pyqtgraph.PlotWidget()
    plot.resize(WIDTH, HEIGHT)
    t = np.arange(SAMPLES) / 10.0
    curves = []
    for values in series:
        curve = pyqtgraph.PlotDataItem(t, values, pen="w")
        plot.addItem(curve)
        curve.setDownsampling(auto=True, method="peak")
        curve.setClipToView(True)
        curves.append(curve)
    image = QImage(WIDTH, HEIGHT, QImage.Format.Format_RGB32)

    def draw() -> None:
        painter = QPainter(image)
        plot.render(painter)
        painter.end()

    def pan(number: int) -> None:
        plot.setXRange(number * 3000.0, number * 3000.0 + SAMPLES / 20.0, padding=0)
        draw()

    def live(number: int) -> None:
        upto = SAMPLES - 1000 + number * 10
        for curve, values in zip(curves, series, strict=True):
            curve.setData(t[:upto], values[:upto])
        plot.setXRange(0, SAMPLES / 10.0, padding=0)
        draw()

    return _median_ms(pan), _median_ms(live)


def _pyramids(series: list[np.ndarray]) -> tuple[float, float, float]:
    from PySide6.QtWidgets import QApplication

    from logger.desktop.lanes import Range
    from logger.desktop.looks import LOOKS
    from logger.desktop.painter import picture
    from logger.desktop.pyramid import Pyramid
    from logger.desktop.scene import Item, Rect, Scene
    from logger.desktop.scene_trends import trace_of

    application = QApplication.instance() or QApplication([])
    began = time.perf_counter()
    pyramids = []
    for values in series:
        pyramid = Pyramid()
        pyramid.append(values[: SAMPLES - 1000])
        pyramids.append(pyramid)
    build = (time.perf_counter() - began) * 1e3
    scale, rect = Range(-20.0, 40.0), Rect(0, 0, 1280, 800)

    def draw(begin: float, end: float) -> None:
        items: list[Item] = [trace_of(p, scale, rect, begin, end) for p in pyramids]
        picture(Scene("trends", tuple(items)), LOOKS["dark"], WIDTH, HEIGHT)

    def pan(number: int) -> None:
        draw(number * 30_000.0, number * 30_000.0 + SAMPLES / 2)

    def live(number: int) -> None:
        at = SAMPLES - 1000 + number * 10
        for pyramid, values in zip(pyramids, series, strict=True):
            pyramid.append(values[at : at + 10])
        draw(0.0, float(len(pyramids[0])))

    panned, lived = _median_ms(pan), _median_ms(live)
    del application
    return panned, lived, build


def _levels() -> tuple[float, float]:
    """Build and paint the levels view with every gap, flag and finding in it."""
    from logger.desktop.drawing import Choices, draw
    from logger.desktop.looks import LOOKS
    from logger.desktop.painter import picture
    from logger.desktop.staged import stage

    present, history = stage("as-found")
    scene = draw(present, history, Choices())
    return (
        _median_ms(lambda _: draw(present, history, Choices()), 25),
        _median_ms(lambda _: picture(scene, LOOKS["dark"]), 25),
    )


def _row(what: str, ours: float, peer: str, theirs: float) -> None:
    print(f"{what:<22} {ours:8.1f} ms   {peer} {theirs:8.1f} ms   {theirs / ours:.2f} times as fast")


def main() -> int:
    """Print one line a row: ours, the peer's, and the ratio."""
    empty, ours = _start_ms(_EMPTY), _start_ms(_OURS)
    _row("start to first paint", ours, "empty plot window", empty)
    series = _series()
    panned, lived, build = _pyramids(series)
    pan, live = _plot_library(series)
    what = f"{CURVES} curves of {SAMPLES:,} samples"
    print(f"{what}, built once in {build:.0f} ms")
    _row("pan", panned, "plotting library", pan)
    _row("live update", lived, "plotting library", live)
    built, painted = _levels()
    print(f"levels: scene {built:.1f} ms, paint {painted:.1f} ms")
    return 0


if __name__ == "__main__":
    sys.exit(main())
