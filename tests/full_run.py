"""The full test run and a record of its outcome: `python -m tests.full_run --date D --commit C`.

`tests.evidence` prints the record on its page.
"""

import argparse
import json
import os
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as ElementTree
from collections.abc import Sequence
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
RECORD = ROOT / "tests" / "full_run.json"
COMMAND = ("pytest", "-m", "full")


def outcomes(report: Path) -> list[dict[str, Any]]:
    """Passed, failed, skipped and seconds of each test file, from a JUnit report."""
    files: dict[str, dict[str, Any]] = {}
    for case in ElementTree.parse(report).getroot().iter("testcase"):
        name = f"tests/{case.attrib['classname'].rpartition('tests.')[2].replace('.', '/')}.py"
        row = files.setdefault(name, {"file": name, "passed": 0, "failed": 0, "skipped": 0, "seconds": 0.0})
        kinds = {child.tag for child in case}
        which = "failed" if kinds & {"failure", "error"} else "skipped" if "skipped" in kinds else "passed"
        row[which] += 1
        row["seconds"] += float(case.attrib["time"])
    return [files[name] for name in sorted(files)]


def lines(record: dict[str, Any]) -> list[str]:
    """The record as a section of the evidence page."""
    rows = record["files"]
    total = {kind: sum(row[kind] for row in rows) for kind in ("passed", "failed", "skipped")}
    return [
        "## The full test run",
        "",
        f"`{' '.join(COMMAND)}` on {record['date']} at commit {record['commit']}, "
        f"{record['processors']} processors, {record['minutes']:.0f} minutes: {total['passed']} passed, "
        f"{total['failed']} failed, {total['skipped']} skipped.",
        "",
        "| file | passed | failed | skipped | seconds |",
        "| --- | --- | --- | --- | --- |",
        *(
            f"| {row['file']} | {row['passed']} | {row['failed']} | {row['skipped']} | {row['seconds']:.0f} |"
            for row in rows
        ),
    ]


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the tests and write the record; return pytest's exit code."""
    parser = argparse.ArgumentParser(description="run the full tests and store the outcome")
    parser.add_argument("--date", required=True)
    parser.add_argument("--commit", required=True)
    given = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory() as folder:
        report = Path(folder) / "report.xml"
        command = [sys.executable, "-m", *COMMAND, f"--junitxml={report}"]
        done = subprocess.run(command, cwd=ROOT, check=False)
        rows = outcomes(report)
        seconds = float(next(ElementTree.parse(report).getroot().iter("testsuite")).attrib["time"])
    record = {
        "date": given.date,
        "commit": given.commit,
        "processors": os.cpu_count(),
        "minutes": round(seconds / 60.0, 1),
        "files": [{**row, "seconds": round(row["seconds"], 1)} for row in rows],
    }
    RECORD.write_text(json.dumps(record, indent=1) + "\n", encoding="utf-8")
    return done.returncode


if __name__ == "__main__":
    sys.exit(main())
