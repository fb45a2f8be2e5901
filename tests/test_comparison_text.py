"""What a comparison's table says of a case that stock has no pair for."""

from typer.testing import CliRunner

from cases.cli import app


def test_a_case_without_a_pair_in_stock_has_none_in_use():
    def row(*more: str) -> list[str]:
        done = CliRunner().invoke(app, ["compare", "fourteen-mahogany", *more])
        assert done.exit_code == 0, done.output
        return done.output.splitlines()[1].split()

    assert row()[-2:] == ["in", "use"]
    assert row("--set", "stock.list_deg=[-0.12]")[-2:] == ["none", "-"]
