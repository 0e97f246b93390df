"""Whatever goes wrong is said in words, has its exit code, and stops nothing else."""

import json
import os
import signal
import subprocess
import sys
from contextlib import suppress

import pytest
from standins import painted_photo

from eyefind.errors import WriteError
from eyefind.record import read_record

unix = pytest.mark.skipif(os.name == "nt", reason="Windows has other terminals")


def test_one_bad_photo_stops_no_other(garden, eyefind):
    painted_photo(garden / "a" / "bed 4.png")
    (garden / "a" / "bed 5.jpg").write_bytes(b"\xff\xd8\xff\xe0 cut short")
    (garden / "empty").mkdir()
    result = eyefind("look", "none.png", "empty", "a", "bed 3.png")
    assert result.exit_code == 6
    assert (garden / "bed 3.eyefind.json").exists()
    assert (garden / "a" / "bed 4.eyefind.json").exists()
    assert "Done: 2. Failed: 3" in result.stderr
    for name in ("none.png", "empty", "bed 5.jpg"):
        assert name in result.stderr
    assert "none.png" not in result.stdout


def test_equal_names_of_two_folders_in_one_out_are_told_apart(garden, eyefind):
    painted_photo(garden / "a" / "bed 4.png")
    painted_photo(garden / "b" / "bed 4.png")
    with (garden / "b" / "bed 4.png").open("ab") as file:
        file.write(b"another picture")
    assert eyefind("look", "a/bed 4.png", "--out", "out").exit_code == 0
    result = eyefind("look", "b/bed 4.png", "--out", "out")
    assert result.exit_code == 4
    said = " ".join(result.stderr.split())
    assert "b/bed 4.png is not the picture" in said
    assert "another photo called bed 4.png, in another folder" in said
    assert "give another folder with --out, or rename the photo" in said


def test_a_crash_of_ours_stops_no_other(garden, eyefind, finder):
    painted_photo(garden / "bed 4.png")

    def break_once():
        finder.on_look = lambda: None
        raise ZeroDivisionError("division by zero")

    finder.on_look = break_once
    result = eyefind("look", garden)
    assert result.exit_code == 6
    assert not (garden / "bed 3.eyefind.json").exists()
    assert (garden / "bed 4.eyefind.json").exists()
    assert "ZeroDivisionError" in result.stderr
    assert "--trace" in result.stderr
    assert "Traceback" not in result.stderr


def test_a_crash_of_ours_on_one_photo(garden, eyefind, finder, caplog):
    finder.on_look = lambda: 1 / 0
    result = eyefind("look", "bed 3.png")
    assert result.exit_code == 1
    assert "Traceback" not in result.stderr + caplog.text
    eyefind("--trace", "look", "bed 3.png")
    assert "Traceback" in caplog.text


def test_ctrl_c_is_clean(garden, eyefind, finder):
    def stop():
        if finder.looks == 2:
            raise KeyboardInterrupt

    painted_photo(garden / "bed 4.png")
    finder.on_look = stop
    result = eyefind("look", garden)
    assert result.exit_code == 130
    assert "Stopped" in result.stderr
    assert read_record(garden / "bed 3.eyefind.json").flags
    assert not (garden / "bed 4.eyefind.json").exists()


def test_exit_codes_of_one_photo(garden, eyefind, monkeypatch):
    assert eyefind("look", "none.png").exit_code == 3
    assert eyefind("answer", "bed 3.png").exit_code == 4
    assert eyefind("look", "bed 3.png").exit_code == 0
    path = garden / "bed 3.eyefind.json"
    fields = json.loads(path.read_text())
    path.write_text(json.dumps(fields | {"version": 9}))
    newer = eyefind("sheet", "bed 3.png")
    assert newer.exit_code == 4
    assert "newer eyefind" in newer.stderr
    path.unlink()
    (garden / "out").write_text("a file, no folder")
    blocked = eyefind("look", "bed 3.png", "--out", "out")
    assert blocked.exit_code == 5
    assert "out" in blocked.stderr


def test_full_disk_is_said_and_nothing_lost(garden, eyefind, monkeypatch):
    eyefind("look", "bed 3.png")
    before = (garden / "bed 3.eyefind.json").read_bytes()

    def full(*_):
        raise WriteError("The disk is full.", "Make room.")

    monkeypatch.setattr("eyefind.record.store.write_bytes", full)
    result = eyefind("answer", "bed 3.png", "--confirm", "E1")
    assert result.exit_code == 5
    assert (garden / "bed 3.eyefind.json").read_bytes() == before


def test_damaged_record(garden, eyefind):
    eyefind("look", "bed 3.png")
    eyefind("answer", "bed 3.png", "--confirm", "E1", "--reject", "E2")
    path = garden / "bed 3.eyefind.json"
    path.write_bytes(path.read_bytes()[:-2000])
    refused = eyefind("answer", "bed 3.png", "--confirm", "E3")
    assert refused.exit_code == 4
    assert "eyefind look" in refused.stderr
    mended = eyefind("look", "bed 3.png")
    assert mended.exit_code == 0
    assert "damaged-1" in mended.stdout
    assert "E1 [confirmed]" in mended.stdout
    assert "E2 [rejected]" in mended.stdout


def test_changed_photo(garden, eyefind):
    eyefind("look", "bed 3.png")
    with (garden / "bed 3.png").open("ab") as file:
        file.write(b"one more byte")
    for verb in ("look", "plan", "sheet", "answer"):
        result = eyefind(verb, "bed 3.png")
        assert result.exit_code == 4, result.output
        assert "has changed" in result.stderr


@pytest.mark.parametrize(
    "name",
    ["Bl\u00fcte \u2116 7.png", "  two  spaces .png", "-dash.png", "a'b\"c;d&.png"],
)
def test_odd_names(garden, eyefind, name):
    painted_photo(garden / "Beet S\u00fcd / 2" / name)
    result = eyefind("look", "--", f"Beet S\u00fcd / 2/{name}")
    assert result.exit_code == 0, result.output
    assert len(list((garden / "Beet S\u00fcd / 2").glob("*.eyefind.json"))) == 1


def run_python(code, *words, **more):
    return subprocess.run(
        [sys.executable, "-c", code, *words], capture_output=True, text=True, **more
    )


def test_in_a_process_of_its_own(tmp_path):
    """Streams and exit codes as a shell sees them."""
    code = "from eyefind.cli import main; main()"
    (tmp_path / "no photo.jpg").write_text("words")
    (tmp_path / "empty.jpg").write_bytes(b"")
    run = run_python(code, "look", "no photo.jpg", cwd=tmp_path)
    assert run.returncode == 3
    assert run.stdout == ""
    assert "no photo.jpg" in run.stderr
    run = run_python(code, "look", ".", "--json", cwd=tmp_path)
    assert run.returncode == 6
    lines = [json.loads(line) for line in run.stdout.splitlines()]
    assert [line["exit_code"] for line in lines] == [3, 3]
    assert "Failed: 2" in run.stderr
    assert "Traceback" not in run.stderr


WAITS = """
import time
from eyefind.cli import main
import eyefind.job
def look_at(*_):
    print("looking", flush=True)
    time.sleep(60)
eyefind.job.find_clump = look_at
eyefind.job.find_card = lambda *_: None
main()
"""


@unix
def test_ctrl_c_in_a_process_of_its_own(tmp_path):
    photo = painted_photo(tmp_path / "bed 3.png")
    command = [sys.executable, "-c", WAITS, "look", str(photo)]
    streams = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, "text": True}
    with subprocess.Popen(command, **streams) as process:
        assert process.stdout.readline() == "looking\n"
        process.send_signal(signal.SIGINT)
        _, errors = process.communicate(timeout=30)
    assert process.returncode == 130
    assert errors.startswith("Stopped")
    assert "Traceback" not in errors
    assert [path.name for path in tmp_path.iterdir()] == ["bed 3.png"]


@unix
def test_progress_goes_to_the_screen_and_results_to_the_pipe(tmp_path):
    for name in ("a.jpg", "b.jpg"):
        (tmp_path / name).write_bytes(b"no photo")
    screen, terminal = os.openpty()
    code = "from eyefind.cli import main; main()"
    command = [sys.executable, "-c", code, "look", str(tmp_path), "--json"]
    run = subprocess.run(command, stdout=subprocess.PIPE, stderr=terminal, text=True)
    os.close(terminal)
    shown = b""
    with suppress(OSError):  # the end of a closed terminal
        while piece := os.read(screen, 65536):
            shown += piece
    os.close(screen)
    assert run.returncode == 6
    assert [json.loads(line)["done"] for line in run.stdout.splitlines()] == [False] * 2
    assert b"time left" in shown
    assert b"2/2" in shown
