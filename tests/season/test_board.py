"""The season at a glance, as text and as a page of the window."""

from importlib import import_module
from pathlib import Path

import pytest

from eyefind.errors import UsageError
from eyefind.season.bin import put_into_bin
from eyefind.season.board import (
    count_words,
    group_words,
    read_board,
    state_words,
    waiting_words,
)
from eyefind.season.counts import count_varieties
from eyefind.season.garden import set_clumps, set_wish, start_season

MANIFEST = Path(__file__).parents[2] / "plugins" / "eyefind_napari" / "napari.yaml"


def test_what_waits_is_told_in_words(ledger, season, rules, grow):
    grow(1, "Owl Ledger", 0.9)
    set_clumps(ledger, season, ["1"], {"bed": "3"}, rules)
    set_clumps(ledger, season, ["2"], {"cut_on": "2026-11-08"}, rules)
    board = read_board(ledger, season, rules)
    assert state_words(board) == "2 clumps: 1 to photograph, 1 done."
    assert board.done == 1
    told = [f"{group_words(item)}: {waiting_words(item)}" for item in board.queue]
    assert told == [
        "Bed not told, variety not named: EYE-0002: done (cut on 2026-11-08)",
        "Bed 3, Owl Ledger: EYE-0001: to photograph",
    ]


def test_what_is_not_likely_reached_is_short(ledger, season, rules, grow):
    grow(1, "Owl Ledger", 0.9)
    grow(2, "Marrow Lamp", 1.0, 1.0, 1.0, 1.0)
    for name in ("Owl Ledger", "Marrow Lamp"):
        set_wish(ledger, season, name, wanted=1)
    (short,) = read_board(ledger, season, rules).short
    # 0.9 in the piece and 8 % lost in store: below the chance that is wished.
    assert short.variety == "Owl Ledger"
    assert count_words(short) == (
        "Owl Ledger: 1 wanted and 0 to give away; 1 safe and 0 doubtful pieces of 1 "
        "clump; just enough to be expected; chance of reaching it 83 % (81 to 86 %)"
    )


def test_a_surplus_is_told(ledger, season, rules, grow):
    grow(2, "Marrow Lamp", 1.0, 1.0, 1.0, 1.0)
    (count,) = count_varieties(ledger, season, rules)
    assert "; 4 to spare" in count_words(count)


def test_too_few_pieces_are_told_without_figures(ledger, season, rules, grow):
    grow(1, "Marrow Lamp", 1.0)
    set_wish(ledger, season, "Marrow Lamp", wanted=2)
    (count,) = count_varieties(ledger, season, rules)
    assert count_words(count).endswith("short of 1; the pieces are too few for it")


def test_an_empty_season_is_told(ledger, season, rules):
    assert state_words(read_board(ledger, season, rules)) == "0 clumps: none yet."


@pytest.mark.gui
class TestPage:
    """The page of the window."""

    @pytest.fixture
    def opened(self):
        return []

    @pytest.fixture
    def page(self, qtbot, demo, rules, opened):
        from eyefind_napari.season_page import SeasonPage

        page = SeasonPage(demo, rules, opened.append)
        qtbot.addWidget(page)
        page.show()
        return page

    def choose(self, page, clump):
        for row in range(page.queue.count()):
            item = page.queue.item(row)
            if item.text().strip().startswith(f"{clump}:"):
                page.queue.setCurrentItem(item)
                return item
        raise AssertionError(clump)

    def test_it_shows_the_board(self, page, demo, demo_season, rules):
        board = read_board(demo, demo_season, rules)
        rows = [page.queue.item(row) for row in range(page.queue.count())]
        headings = [row for row in rows if row.font().bold()]
        assert [row.text() for row in rows if not row.font().bold()] == [
            waiting_words(item) for item in board.queue
        ]
        assert len([row for row in headings if row.text().startswith("Bed ")]) == 12
        assert len(headings) == 12
        assert page.state.text() == state_words(board)
        assert (page.progress.value(), page.progress.maximum()) == (20, 40)
        assert page.short.item(0).text() == "Short:"
        assert page.short.count() == 1 + len(board.short)

    def test_a_chosen_clump_opens_its_photo(self, page, opened):
        page.queue.itemActivated.emit(self.choose(page, "EYE-0003"))
        assert [path.name for path in opened] == ["IMG_0304.jpg"]

    def test_what_is_typed_is_kept_before_it_is_said(
        self, page, qtbot, demo, rules, opened
    ):
        from eyefind_napari.season_page import SeasonPage

        self.choose(page, "EYE-0003")
        qtbot.keyClicks(page.note, "half a sen")
        # Another window, as after a crash.
        other = SeasonPage(demo, rules, opened.append)
        qtbot.addWidget(other)
        self.choose(other, "EYE-0003")
        assert other.note.text() == "half a sen"
        qtbot.keyClicks(other.note, "tence")
        other.note.returnPressed.emit()
        assert demo.ask("SELECT note FROM clump WHERE name = 'EYE-0003'")[0][0] == (
            "half a sentence"
        )
        assert demo.ask("SELECT * FROM draft") == []
        demo.undo()
        assert demo.ask("SELECT note FROM clump WHERE name = 'EYE-0003'")[0][0] == ""

    def test_a_draft_stays_with_its_season(self, page, qtbot, demo, demo_season, rules):
        self.choose(page, "EYE-0003")
        qtbot.keyClicks(page.note, "last year's")
        season = start_season(demo, "Quillfold", demo_season.year + 1)
        set_clumps(demo, season, ["3"], {}, rules)
        page.again.click()
        self.choose(page, "EYE-0003")
        assert page.note.text() == ""

    def test_a_clump_that_another_window_threw_away_is_told(
        self, page, demo, demo_season
    ):
        put_into_bin(demo, demo_season, "clump", "3")
        self.choose(page, "EYE-0003")
        assert "no clump EYE-0003" in page.message.text()

    def test_looking_again_shows_what_another_window_did(
        self, page, demo, demo_season, rules
    ):
        self.choose(page, "EYE-0004")
        set_clumps(demo, demo_season, ["4"], {"cut_on": "2026-11-09"}, rules)
        page.again.click()
        assert page.progress.value() == 21
        assert "EYE-0004" in page.queue.currentItem().text()

    def test_the_dock_opens_the_ledger_of_the_environment(
        self, qtbot, demo_path, monkeypatch, opened
    ):
        from eyefind_napari.season_page import season_dock

        class Viewer:
            """A window that only notes what it is to open."""

            def open(self, path, plugin):
                opened.append((path, plugin))

        monkeypatch.setenv("EYEFIND_LEDGER", str(demo_path))
        page = season_dock(Viewer())
        qtbot.addWidget(page)
        page.queue.itemActivated.emit(self.choose(page, "EYE-0003"))
        ((path, plugin),) = opened
        assert path.endswith("IMG_0304.jpg")
        assert plugin == "eyefind"
        monkeypatch.setenv("EYEFIND_LEDGER", "nowhere.db")
        with pytest.raises(UsageError, match="nowhere"):
            season_dock(Viewer())

    def test_without_the_environment_the_dock_asks_for_the_ledger(
        self, qtbot, demo_path, monkeypatch
    ):
        from eyefind_napari import season_page

        monkeypatch.delenv("EYEFIND_LEDGER", raising=False)
        answers = [str(demo_path), ""]
        monkeypatch.setattr(
            season_page.QFileDialog,
            "getOpenFileName",
            lambda *_: (answers.pop(0), "Ledgers (*.db)"),
        )
        page = season_page.season_dock(None)
        qtbot.addWidget(page)
        assert page.progress.maximum() == 40
        with pytest.raises(UsageError, match="No ledger was chosen"):
            season_page.season_dock(None)

    def test_the_dock_is_offered_in_the_window(self):
        from npe2 import PluginManifest

        (widget,) = (
            widget
            for widget in PluginManifest.from_file(MANIFEST).contributions.widgets
            if widget.display_name == "The season"
        )
        command = next(
            command
            for command in PluginManifest.from_file(MANIFEST).contributions.commands
            if command.id == widget.command
        )
        module, _, name = command.python_name.partition(":")
        assert callable(getattr(import_module(module), name))

    def test_what_goes_wrong_is_told(self, page, demo):
        demo.close()
        page.renew()
        assert page.message.text()
