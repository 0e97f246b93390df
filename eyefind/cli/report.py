"""What the command line prints for a photo: lines for people, JSON for machines."""

import json
from dataclasses import asdict
from pathlib import Path
from typing import Any

import typer

from eyefind.data import Flag, Record
from eyefind.errors import EyefindError
from eyefind.job import Done
from eyefind.review import flags_in_force, standing
from eyefind.sheet.style import KIND_WORDS
from eyefind.sheet.words import AFTER, STAMP, scale_words
from eyefind.words import counted


def tell_done(done: Done, as_json: bool, brief: bool) -> None:
    """Print what was done with a photo.

    Parameters
    ----------
    done : Done
        What was done.
    as_json : bool
        One JSON object in one line instead of words.
    brief : bool
        Leave out the single flags (there are many photos).
    """
    if as_json:
        typer.echo(json.dumps(done_fields(done), ensure_ascii=False))
        return
    lines = [f"Record: {done.record_path}", *_words(done.record, brief)]
    for path in done.sheets:
        what = "After the cuts" if AFTER in path.name else "Sheet"
        lines.append(f"{what}: {path}")
    typer.echo(f"{done.photo_path}\n" + "".join(f"  {line}\n" for line in lines))


def tell_failure(photo_path: Path, error: EyefindError) -> None:
    """Print the JSON object of a photo that could not be done."""
    fields = {
        "photo": str(photo_path),
        "done": False,
        "what": error.what,
        "advice": error.advice,
        "exit_code": int(error.exit_code),
    }
    typer.echo(json.dumps(fields, ensure_ascii=False))


def tell_files(paths: list[Path], as_json: bool) -> None:
    """Print where files were written."""
    if as_json:
        typer.echo(json.dumps({"files": [str(path) for path in paths]}))
        return
    for path in paths:
        typer.echo(f"Written: {path}")


def done_fields(done: Done) -> dict[str, Any]:
    """Return the JSON object of a photo that was done (docs/command-line.md)."""
    record = done.record
    flags = flags_in_force(record.flags, record.decisions)
    answers = standing(record.flags, record.decisions)
    plan = record.plan
    return {
        "photo": str(done.photo_path),
        "done": True,
        "record": str(done.record_path),
        "px_per_mm": record.scale.px_per_mm,
        "scale_source": record.scale.source,
        "remarks": [remark.code for remark in record.remarks],
        "flags": len(flags),
        "answers": answers,
        "unanswered": [flag.id for flag in flags if flag.id not in answers],
        "plan": plan
        and {
            "style": plan.style,
            "reviewed": plan.reviewed,
            "pieces": len(plan.pieces),
            "cuts": len(plan.cuts),
            "discards": len(plan.discards),
            "reason": plan.reason,
            "choices": [asdict(choice) for choice in plan.choices],
            "warnings": plan.warnings,
        },
        "sheets": [str(path) for path in done.sheets],
    }


def _words(record: Record, brief: bool) -> list[str]:
    flags = flags_in_force(record.flags, record.decisions)
    answers = standing(record.flags, record.decisions)
    lines = [scale_words(record.scale)]
    if record.frames:
        left_out = sum(bool(frame.left_out) for frame in record.frames)
        lines.append(f"Lamp set: {len(record.frames) + 1} photos, {left_out} left out")
    lines += [f"Remark: {remark.text} {remark.advice}" for remark in record.remarks]
    eyes = [flag for flag in flags if flag.kind == "eye"]
    others = len(flags) - len(eyes)
    waiting = sum(flag.id not in answers for flag in flags)
    lines.append(
        f"Flags: {counted(len(eyes), 'likely eye')}, {others} of other kinds; "
        f"{waiting} without your answer"
    )
    if not brief:
        lines += [f"  {_flag_words(flag, answers.get(flag.id))}" for flag in flags]
    plan = record.plan
    if plan is not None:
        lines.append(
            f"Plan ({plan.style}): {counted(len(plan.pieces), 'piece')}, "
            f"{counted(len(plan.cuts), 'cut')}, {len(plan.discards)} to discard"
            + ("" if plan.reviewed else f"; {STAMP}")
        )
        lines += [f"  {line}" for line in (plan.reason, *plan.warnings) if line]
    return lines


def _flag_words(flag: Flag, answer: str | None) -> str:
    word = "no answer yet" if answer is None else answer.replace("_", " ")
    chance = "" if flag.origin == "added" else f", {100 * flag.likelihood:.0f} % likely"
    on = "" if flag.belongs_to is None else f" ({flag.belongs_to})"
    reasons = "; ".join(flag.reasons)
    return f"{flag.id} [{word}] {KIND_WORDS[flag.kind]}{on}{chance}: {reasons}"
