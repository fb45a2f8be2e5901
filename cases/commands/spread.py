"""`neckpreload spread`: how often one pair of shims is right although every plank differs."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager, nullcontext
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from cases.commands import options, output

if TYPE_CHECKING:
    from concurrent.futures import Executor


def spread(
    case: options.CaseArgument,
    necks: Annotated[int, typer.Option(help="How many necks.", metavar="N")] = 10_000,
    seed: Annotated[int, typer.Option(help="The same seed draws the same necks.")] = 1,
    settings: options.SetOption = None,
    workers: Annotated[
        int | None, typer.Option(help="Processes; default: one per processor. The result is the same.")
    ] = None,
    dask: Annotated[
        str | None,
        typer.Option(
            help="Work on a Dask cluster: its scheduler's address, or `local`. Needs the extra `dask`.",
            metavar="ADDRESS",
        ),
    ] = None,
    resume: Annotated[
        Path | None,
        typer.Option(help="Keep finished parts in this folder and continue from them.", metavar="FOLDER"),
    ] = None,
    csv: output.TableOption = None,
    full: options.FullOption = False,
    explain: options.ExplainOption = False,
    as_json: output.JsonOption = False,
    png: output.PictureOption = None,
    workshop: options.WorkshopOption = None,
) -> None:
    """Solve many necks that differ by chance: offset, residual kink and success rate of one fixed pair."""
    import os

    from cases.monte_carlo.spread import check_counts
    from cases.monte_carlo.spread import spread as drawn
    from cases.show.text.spread import spread_text

    depth = options.depth_of(full=full, explain=explain)
    count = (os.cpu_count() or 1) if workers is None else workers
    check_counts(necks, seed=seed, workers=count)
    output.check_places(csv, png)
    opened, _ = options.open_case(case, settings=settings, workshop_path=workshop)
    if resume is not None:
        output.writable_folder(resume, option="--resume")
    with _executor(count, dask) as (executor, send), output.progress_bar("necks") as progress:
        found = drawn(
            opened,
            necks=necks,
            seed=seed,
            workers=count,
            executor=executor,
            send=send,
            folder=resume,
            building=lambda share: progress(int(100 * share), 100, "reduced model, per cent"),
            progress=lambda done: progress(done, necks),
        )
    kept = "from the cache" if found.build_cached else "built now"
    typer.echo(
        f"reduced model {kept}: {found.build_seconds:.1f} s; necks: {found.run_seconds:.1f} s", err=True
    )
    output.show(found, text=spread_text(found, depth=depth), as_json=as_json, csv=csv, png=png)


@contextmanager
def _executor(workers: int, dask: str | None) -> Iterator["tuple[Executor | None, Callable[[Any], Any]]"]:
    """The processes or the cluster that solve the necks, None for this process; and what sends them data."""
    if dask is None:
        from concurrent.futures import ProcessPoolExecutor

        with ProcessPoolExecutor(workers) if workers > 1 else nullcontext() as pool:
            yield pool, lambda data: data
        return
    from materials.errors import InputError

    try:
        from dask import config
        from distributed import Client
    except ImportError:
        raise InputError(
            "--dask: the extra is not installed; install neckpreload with its extra `dask`, "
            "or leave the option out."
        ) from None
    # Dask's default makes workers give memory back after each array: half as much processor time again
    kept = {"distributed.nanny.pre-spawn-environ": {"OMP_NUM_THREADS": 1}}
    try:
        with config.set(kept):
            client = Client() if dask == "local" else Client(dask, timeout="10s")
    except (OSError, ValueError) as error:
        raise InputError(
            f'--dask "{dask}": no cluster answers there ({error}); '
            "give the scheduler's address, as tcp://10.0.0.5:8786, or `local`."
        ) from None
    with client:
        yield client.get_executor(), partial(client.scatter, broadcast=True)
