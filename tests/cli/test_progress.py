"""Long work is told on standard error: in one renewed line on a terminal, else by the step."""

from __future__ import annotations

import io
import json
import sys
import time

import pytest

from steelyard.cli import main, progress
from steelyard.cli.progress import Progress, counted
from tests.small_library import SLOW, USUAL, question, study


class Screen(io.StringIO):
    def __init__(self, *, terminal: bool) -> None:
        super().__init__()
        self.terminal = terminal

    def isatty(self) -> bool:
        return self.terminal


@pytest.fixture
def screen(monkeypatch):
    """Standard error of either kind, with hardly any silence before the first line."""

    def made(*, terminal: bool) -> Screen:
        found = Screen(terminal=terminal)
        monkeypatch.setattr(sys, "stderr", found)
        monkeypatch.setattr(progress, "SECONDS_OF_SILENCE", 0.01)
        monkeypatch.setattr(progress, "SECONDS_BETWEEN", 0.01)
        return found

    return made


def wait_for(screen: Screen, text: str) -> None:
    give_up = time.monotonic() + 10
    while text not in screen.getvalue():
        assert time.monotonic() < give_up, screen.getvalue()
        time.sleep(0.005)


def test_a_terminal_shows_one_line_that_is_gone_in_the_end(screen):
    shown = screen(terminal=True)
    with Progress("reading records") as telling:
        telling.count(1200, 5012)
        wait_for(shown, "\r\x1b[Kreading records 1,200 of 5,012, 0 s")
        telling.step("weighing asked")
        wait_for(shown, "weighing asked, 0 s")
    assert shown.getvalue().endswith("\r\x1b[K") and "\n" not in shown.getvalue()


def test_elsewhere_each_step_under_way_has_a_line(screen):
    shown = screen(terminal=False)
    with counted("reading records") as told:
        told(1, 2)
        wait_for(shown, "reading records …\n")
        told(2, 2)
        time.sleep(0.05)
    assert shown.getvalue() == "reading records …\n"


@pytest.mark.parametrize("terminal", [True, False])
def test_a_line_of_its_own_stands_apart(screen, terminal):
    shown = screen(terminal=terminal)
    with Progress("explaining") as telling:
        wait_for(shown, "explaining")
        telling.say("a slip")
    assert ("\r\x1b[Ka slip\n" if terminal else "\na slip\n") in shown.getvalue()


def test_short_work_says_nothing(monkeypatch):
    shown = Screen(terminal=True)
    monkeypatch.setattr(sys, "stderr", shown)
    with Progress("reading records"):
        pass
    assert shown.getvalue() == ""


def test_nobody_reading_it_stops_no_work(screen, monkeypatch):
    shown = screen(terminal=True)
    monkeypatch.setattr(shown, "write", lambda text: (_ for _ in ()).throw(BrokenPipeError()))
    with Progress("weighing"):
        time.sleep(0.05)


def test_commands_tell_their_steps_and_print_only_data(tmp_path, screen, monkeypatch, capsys):
    for name in ("aldbury", "benholm"):
        study(tmp_path, name, SLOW + USUAL)
    question(tmp_path)
    shown = screen(terminal=False)
    monkeypatch.setattr(progress, "SECONDS_OF_SILENCE", 0.0)
    monkeypatch.setattr(progress, "SECONDS_BETWEEN", 0.0)
    arguments = ["weigh", "asked", "--library", str(tmp_path), "--format", "json"]
    monkeypatch.setattr(sys, "argv", ["steelyard", *arguments])
    with pytest.raises(SystemExit) as left:
        main()
    assert left.value.code == 0
    assert "weighing asked …" in shown.getvalue()
    assert json.loads(capsys.readouterr().out)["k_studies"] == 2
