"""What the README shows is what the tool prints."""

from __future__ import annotations

from pathlib import Path

ROOT = Path(__file__).parents[1]


def test_the_demo_in_the_readme_is_the_demo(call, tmp_path, monkeypatch):
    """Every line of the block stands in the output, in the same order; "..." leaves some out."""
    monkeypatch.delenv("COLUMNS", raising=False)
    code, out, _ = call("demo", "--to", tmp_path)
    assert code == 0
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    block = text.split("## What the demo shows\n")[1].split("![Route 1")[0]
    wanted = [line.strip() for line in block.splitlines() if line.strip() not in {"", "..."}]
    assert len(wanted) > 40
    printed = iter([line.strip() for line in out.splitlines()])
    for line in wanted:
        assert line in printed, line
