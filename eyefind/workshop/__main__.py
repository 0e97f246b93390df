"""The makers' commands: ``python -m eyefind.workshop --help``."""

from pathlib import Path
from typing import Annotated

import typer

app = typer.Typer(help=__doc__, no_args_is_help=True, add_completion=False)

Lamps = Annotated[
    int, typer.Option(min=1, max=4, help="Frames a clump, the lamp moved between.")
]


@app.command("render")
def render_set(
    out: Annotated[Path, typer.Option(help="Folder for pictures and truth.")],
    count: Annotated[int, typer.Option(min=1, help="How many clumps.")] = 8,
    first: Annotated[int, typer.Option(min=0, help="Seed of the first one.")] = 0,
    width: Annotated[int, typer.Option(min=64, help="Width, px.")] = 2000,
    device: Annotated[str, typer.Option(help="cpu or cuda.")] = "cpu",
    oversample: Annotated[float, typer.Option(help="Inner px per px.")] = 1.5,
    close: Annotated[bool, typer.Option("--close", help="Show crowns only.")] = False,
    lamps: Lamps = 1,
) -> None:
    """Render a numbered set: one clump a seed, the same whatever the count."""
    from eyefind.workshop.scene import Setting
    from eyefind.workshop.write import write_clump

    for seed in range(first, first + count):
        name = f"clump{seed:05d}"
        setting = Setting(card=False if close else None, close=close, lamps=lamps)
        write_clump(out, name, seed, width, device, oversample, setting)
        typer.echo(f"{name} written ({seed - first + 1} of {count})")


@app.command("traced")
def render_traced(
    out: Annotated[Path, typer.Option(help="Folder for pictures and truth.")],
    count: Annotated[int, typer.Option(min=1, help="How many clumps.")] = 8,
    first: Annotated[int, typer.Option(min=0, help="Seed of the first one.")] = 0,
    width: Annotated[int, typer.Option(min=64, help="Width, px.")] = 1600,
    samples: Annotated[int, typer.Option(min=4, help="Rays a pixel.")] = 48,
    variant: Annotated[
        str, typer.Option(help="llvm_ad_rgb or cuda_ad_rgb.")
    ] = "llvm_ad_rgb",
    lamps: Lamps = 1,
    views: Annotated[int, typer.Option(min=1, help="Photographs a clump.")] = 1,
    close: Annotated[bool, typer.Option("--close", help="Show crowns only.")] = False,
) -> None:
    """Render a set of the second family, for judging what was fitted on the first."""
    from eyefind.workshop.traced.command import write_traced

    for seed in range(first, first + count):
        name = f"traced{seed:05d}"
        write_traced(out, name, seed, width, samples, variant, lamps, views, close)
        typer.echo(f"{name} written ({seed - first + 1} of {count})")


@app.command("samples")
def make_samples(
    out: Annotated[Path, typer.Option(help="Folder for the samples.")],
    device: Annotated[str, typer.Option(help="cpu or cuda.")] = "cpu",
) -> None:
    """Make the pictures and truth of sample_images again."""
    from eyefind.workshop.samples import SAMPLES, write_samples

    for number, name in enumerate(write_samples(out, device), start=1):
        typer.echo(f"{name} written ({number} of {len(SAMPLES)})")


@app.command("evaluate-lamps")
def evaluate_lamps(
    folder: Annotated[Path, typer.Argument(help="Clumps rendered with --lamps 4.")],
) -> None:
    """Judge what more frames with the lamp moved add to the finder."""
    from eyefind.workshop.lamp_sets import judge_lamp_sets

    typer.echo(judge_lamp_sets(folder))


@app.command("sheet-picture")
def make_sheet_picture(
    photo: Annotated[Path, typer.Argument(help="The sample.")] = Path(
        "sample_images/bed1-lantern-moth-2.jpg"
    ),
    out: Annotated[Path, typer.Option(help="The picture.")] = Path(
        "docs/pictures/sheet.png"
    ),
) -> None:
    """Make the picture of a sheet in the README again."""
    from eyefind.workshop.sheet_picture import write_sheet_picture

    write_sheet_picture(photo, out)
    typer.echo(f"{out} written")


@app.command("fit-eyes")
def fit_eye_weights(
    folder: Annotated[Path, typer.Argument(help="Pictures with their truth.")],
    out: Annotated[Path, typer.Option(help="The weights file to write.")],
) -> None:
    """Fit the weights of the eyes again; those of other kinds stay."""
    from eyefind.look.likelihood import load_models
    from eyefind.rules import load_rules
    from eyefind.workshop.fit import write_models
    from eyefind.workshop.fit_samples import fit_eyes

    models = load_models(learned=True)
    write_models({**models, "eye": fit_eyes(folder, load_rules())}, out)


@app.command("fit-others")
def fit_other_weights(
    folder: Annotated[Path, typer.Argument(help="Pictures with their truth.")],
    out: Annotated[Path, typer.Option(help="The weights file to write.")],
) -> None:
    """Fit the weights of spent parents, soft patches and the like; eyes stay."""
    from eyefind.look.likelihood import load_models
    from eyefind.rules import load_rules
    from eyefind.workshop.fit import write_models
    from eyefind.workshop.fit_samples import fit_others

    write_models(load_models(learned=True) | fit_others(folder, load_rules()), out)


@app.command("fit-parts")
def fit_part_weights(
    folder: Annotated[Path, typer.Argument(help="Pictures with their truth.")],
    out: Annotated[Path, typer.Option(help="The weights file to write.")],
) -> None:
    """Fit the weights that tell body, crown, stem and gap apart again."""
    import msgspec

    from eyefind.workshop.fit_parts import fit_parts

    numbers = msgspec.json.encode(fit_parts(folder))
    out.write_bytes(msgspec.json.format(numbers, indent=2) + b"\n")


@app.command("reliefs")
def write_the_reliefs(
    folders: Annotated[list[Path], typer.Argument(help="Lamp sets with their truth.")],
) -> None:
    """Write the relief of each rendered lamp set beside it, to train with."""
    from eyefind.workshop.reliefs import write_reliefs

    for folder in folders:
        typer.echo(f"{write_reliefs(folder)} reliefs in {folder}")


@app.command("learn")
def learn(
    folders: Annotated[list[Path], typer.Argument(help="Pictures with their truth.")],
    out: Annotated[Path, typer.Option(help="The weights to write, .npz.")],
    minutes: Annotated[float, typer.Option(help="How long to train.")] = 5.0,
    seed: Annotated[int, typer.Option(help="Of crops and first weights.")] = 0,
    start: Annotated[
        Path | None, typer.Option(help="Weights to go on from, .npz.")
    ] = None,
    device: Annotated[str, typer.Option(help="cpu or cuda.")] = "cuda",
) -> None:
    """Train the finder's network on rendered pictures."""
    from eyefind.workshop.learn.keep import save_weights
    from eyefind.workshop.learn.pictures import read_pictures
    from eyefind.workshop.learn.train import train

    pictures = read_pictures(folders, device)
    typer.echo(f"{len(pictures)} pictures")
    save_weights(train(pictures, 60 * minutes, seed, start), out)


@app.command("ship")
def ship_weights(
    weights: Annotated[Path, typer.Argument(help="Weights that `learn` wrote, .npz.")],
    made_from: Annotated[str, typer.Option(help="On what they were trained, and how.")],
    out: Annotated[Path, typer.Option(help="Folder, eyefind/model.")],
) -> None:
    """Write the network's weights as the finder reads them, with their hash."""
    from eyefind.workshop.learn.keep import load_weights, ship
    from eyefind.workshop.learn.network import Finder

    net = Finder()
    load_weights(net, weights)
    ship(net, made_from, out)


@app.command("evaluate")
def evaluate_sets(
    folders: Annotated[list[Path], typer.Argument(help="Pictures with their truth.")],
    out: Annotated[
        Path | None, typer.Option(help="Markdown file; numbers and plots go beside it.")
    ] = None,
) -> None:
    """Judge all finders on rendered sets side by side and print the tables."""
    from eyefind.workshop.evaluate import evaluate

    typer.echo(evaluate(folders, out))


@app.command("plans")
def judge_the_plans(
    folder: Annotated[Path, typer.Argument(help="Pictures with their truth.")],
    found: Annotated[
        bool, typer.Option("--found", help="On the found anatomy, not the true one.")
    ] = False,
) -> None:
    """Judge cut plans on a rendered set and print the table."""
    from eyefind.workshop.plans import judge_plans

    typer.echo(judge_plans(folder, found))


@app.command("failures")
def show_failures(
    folders: Annotated[list[Path], typer.Argument(help="Pictures with their truth.")],
    out: Annotated[Path, typer.Option(help="The picture to write, JPEG.")],
) -> None:
    """Show the clearest eyes that were missed and the surest false flags."""
    from eyefind.workshop.failures import write_failures

    write_failures(folders, out)


if __name__ == "__main__":
    app()
