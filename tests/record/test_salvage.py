"""A damaged record gives up every decision that is still whole in it."""

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from records import decision, painted_record

from eyefind.data import Decision
from eyefind.record import DamagedRecordError, read_record, salvage, write_record
from eyefind.record.coding import to_fields

WORDS = [
    decision("E1", "confirmed"),
    decision("E2", "rejected"),
    Decision("2025-11-02T10:21:00+01:00", "E3", "not_sure", 'Ida "}{" Gr\u00fcn\\'),
    decision("", "undo"),
    decision("E4", "confirmed"),
]


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    path = tmp_path_factory.mktemp("salvage") / "a.eyefind.json"
    record = painted_record()
    record.decisions.extend(WORDS)
    write_record(record, path)
    return path.read_bytes()


def test_cut_anywhere_the_words_before_the_cut_remain(whole, tmp_path):
    path = tmp_path / "a.eyefind.json"
    ends = []
    at = whole.index(b'"decisions"')
    for _ in WORDS:
        at = whole.index(b'"says"', at + 1)
        ends.append(whole.index(b'"by"', at))
    ends = [whole.index(b"}", end) + 1 for end in ends]
    # The third name holds a brace of its own.
    ends[2] = whole.index(b"},", ends[2]) + 1
    near = range(whole.index(b'"decisions"'), whole.index(b'"flags"') + 400)
    for cut in [*range(0, len(whole) - 2, 997), *near]:
        path.write_bytes(whole[:cut])
        with pytest.raises(DamagedRecordError):
            read_record(path)
        kept = sum(end <= cut for end in ends)
        assert salvage(path).decisions == WORDS[:kept], cut


def test_flags_photo_and_scale_are_saved_too(whole, tmp_path):
    path = tmp_path / "a.eyefind.json"
    path.write_bytes(whole[: whole.index(b'"anatomy"')])
    saved = salvage(path)
    assert [flag.id for flag in saved.flags] == ["E1", "E2", "E3", "E4", "F1", "F2"]
    assert saved.photo.file == "clump 7.jpg"
    assert saved.scale.px_per_mm == 4.0


def test_one_wrong_word_spoils_no_other(whole, tmp_path):
    path = tmp_path / "a.eyefind.json"
    fields = json.loads(whole)
    fields["decisions"][1]["says"] = "perhaps"
    del fields["decisions"][3]["by"]
    path.write_text(json.dumps(fields))
    with pytest.raises(DamagedRecordError):
        read_record(path)
    assert salvage(path).decisions == [WORDS[0], WORDS[2], WORDS[4]]


@settings(max_examples=150, deadline=None)
@given(data=st.data())
def test_bad_bytes_spoil_only_what_they_hit(whole, tmp_path_factory, data):
    path = tmp_path_factory.getbasetemp() / "bytes.eyefind.json"
    spots = data.draw(
        st.lists(st.integers(0, len(whole) - 1), min_size=1, max_size=6, unique=True)
    )
    damaged = bytearray(whole)
    for spot in spots:
        damaged[spot] = 0xFF
    path.write_bytes(damaged)
    saved = salvage(path).decisions
    spans, at = [], whole.index(b'"decisions"')
    for word in WORDS:
        start = whole.index(b'{"at"', at)
        at = start + len(json.dumps(to_fields(word), ensure_ascii=False).encode()) - 7
        spans.append(range(start, at))
    unhurt = [
        word
        for word, span in zip(WORDS, spans, strict=True)
        if not any(spot in span for spot in spots)
    ]
    assert saved == unhurt


@settings(max_examples=200, deadline=None)
@given(content=st.binary(max_size=400) | st.text('{}[]",:at1 \\', max_size=200))
def test_any_rubbish_gives_nothing_and_no_crash(tmp_path_factory, content):
    path = tmp_path_factory.getbasetemp() / "rubbish.eyefind.json"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    assert salvage(path).decisions == []
