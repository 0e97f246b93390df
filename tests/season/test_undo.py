"""Whatever is done: taken back whole to the beginning, and brought back whole."""

from datetime import date

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from eyefind.season.garden import set_box, set_clumps, set_wish, start_season
from eyefind.season.ledger import Ledger
from eyefind.season.spring import note_growth
from eyefind.season.tables import TABLES, Clump, Season, StoredPiece
from eyefind.season.winter import RESULTS, note_check

DAY = date(2027, 1, 10)
PIECE = {
    "eyes": 1,
    "found_eyes": 1,
    "confirmed_eyes": 0,
    "eye_chance": 0.9,
    "safe": True,
    "whole": False,
    "volume_ml": 100.0,
    "volume_sd_ml": 20.0,
    "thickest_mm": 30.0,
}
numbers = st.integers(1, 4)
deeds = st.lists(
    st.one_of(
        st.tuples(st.just("wish"), numbers, st.integers(0, 9)),
        st.tuples(st.just("clump"), numbers, st.sampled_from(["", "3", "7"])),
        st.tuples(st.just("box"), numbers, st.floats(1, 90)),
        st.tuples(st.just("check"), numbers, st.sampled_from(RESULTS)),
        st.tuples(st.just("growth"), numbers, st.sampled_from(["shot", "blind"])),
        st.tuples(st.just("bin"), numbers, st.none()),
        st.tuples(st.just("undo"), numbers, st.none()),
        st.tuples(st.just("redo"), numbers, st.none()),
    ),
    max_size=12,
)


def do(ledger, season, rules, what, number, value):
    """Do one thing; pieces and clumps go by their place in the table."""
    if what == "wish":
        set_wish(ledger, season, f"V{number}", wanted=value)
    elif what == "clump":
        set_clumps(ledger, season, [str(number)], {"bed": value}, rules)
    elif what == "box":
        set_box(ledger, season, f"B{number}", value)
    elif what == "check":
        note_check(ledger, ledger.rows(StoredPiece)[:number], value, DAY)
    elif what == "growth":
        note_growth(ledger, ledger.rows(StoredPiece)[:number], value, DAY)
    elif what == "bin":
        with ledger.deed("bin") as deed:
            for clump in ledger.rows(Clump)[:number]:
                deed.bin(clump)
    else:
        getattr(ledger, what)()


def everything(ledger):
    return {kind: ledger.rows(kind) for kind in TABLES}


@settings(
    deadline=None,
    max_examples=25,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(deeds)
def test_all_is_taken_back_and_brought_back(tmp_path_factory, rules, deeds):
    with Ledger(tmp_path_factory.mktemp("undo") / "l.db") as ledger:
        empty = everything(ledger)
        season = start_season(ledger, "Quillfold", 2026)
        (clump,) = set_clumps(ledger, season, ["1"], {}, rules)
        with ledger.deed("pieces") as deed:
            for letter in "ABC":
                deed.add(StoredPiece(clump_id=clump.id, letter=letter, **PIECE))
        for what, number, value in deeds:
            do(ledger, season, rules, what, number, value)
            while ledger.row(Season, season.id).binned_at:
                ledger.redo()  # the start itself was taken back
        last = everything(ledger)
        count = 0
        while ledger.undo() is not None:
            count += 1
        assert everything(ledger) == empty
        for _ in range(count):
            assert ledger.redo() is not None
        assert everything(ledger) == last
        assert ledger.faults() == []
