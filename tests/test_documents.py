"""README and DEVELOPERS say what is so: their commands run, their files exist."""

import re
import shlex
import shutil
from pathlib import Path

import pytest

from tests.ui.running import run_ui
from ui.commands.group import flitchwright
from ui.settings_file import read_settings

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def readme_commands() -> list[list[str]]:
    blocks = re.findall(r"```sh\n(.*?)```", README, flags=re.DOTALL)
    lines = [line for block in blocks for line in block.splitlines()]
    words = [shlex.split(line) for line in lines if line.startswith(".venv/bin/python -m ui ")]
    return [line[3:] for line in words]


def test_readme_opens_with_the_job_in_one_paragraph():
    title, job, *_ = README.split("\n\n")

    assert title == "# Flitchwright"
    assert "\n" not in job
    assert "veneer" in job


def test_every_command_is_in_the_readme_and_has_help():
    for name, command in flitchwright.commands.items():
        assert f"-m ui {name}" in README
        assert command.help


def lay_offcut(folder):
    """A folder with one leaf of the samples, as it lies under both lamps."""
    folder.mkdir()
    leaves = ROOT / "sample_images/leaves"
    head, *lines = (leaves / "shots.csv").read_text().splitlines()
    kept = [line for line in lines if line.startswith("walnut_01_as-lies_")]
    (folder / "shots.csv").write_text("\n".join([head, *kept]) + "\n")
    for line in kept:
        shutil.copy(leaves / line.split(",")[0], folder)


def test_the_commands_of_the_readme_run_in_its_order(tmp_path, monkeypatch):
    shutil.copytree(ROOT / "sample_images/leaves", tmp_path / "FOLDER")
    shutil.copytree(ROOT / "sample_images/station", tmp_path / "FOLDER", dirs_exist_ok=True)
    for offcut in ("OFFCUT-RAW", "OFFCUT-OILED"):
        lay_offcut(tmp_path / offcut)
    known = re.search(r"```csv\n(leaf,number.*?)```", README, flags=re.DOTALL)
    assert known is not None
    (tmp_path / "known.csv").write_text(known[1], encoding="utf-8")
    shutil.copy(ROOT / "sample_images/leaves/walnut_01_as-lies_A.jpg", tmp_path / "leaf.jpg")
    monkeypatch.chdir(tmp_path)
    commands = [line for line in readme_commands() if line[0] not in {"serve", "demo"}]

    for line in commands:
        words = [word.replace("01-06", "01-02") for word in line]
        ran = run_ui(*words, environment={"XDG_DATA_HOME": str(tmp_path / "data")})
        assert ran.code == 0, (line, ran.stderr)

    assert {line[0] for line in commands} == set(flitchwright.commands) - {"serve", "demo"}
    assert (tmp_path / "match.png").stat().st_size > 10_000
    assert {path.suffix for path in (tmp_path / "for-customer").iterdir()} == {".pdf", ".zip"}


def test_the_settings_of_the_readme_are_known(tmp_path, monkeypatch):
    (block,) = re.findall(r"```toml\n(.*?)```", README, flags=re.DOTALL)
    (tmp_path / "settings.toml").write_text(block)
    monkeypatch.setenv("FLITCHWRIGHT_SETTINGS", str(tmp_path / "settings.toml"))

    vision = read_settings().vision

    assert len(vision.strip_reflectances) == 6
    assert (vision.slight_from, vision.strong_from) == (1.0, 2.5)


@pytest.mark.parametrize("text", [README, DEVELOPERS], ids=["README", "DEVELOPERS"])
def test_files_that_are_named_exist(text):
    named = re.findall(r"`((?:vision|catalog|ui|tests|sample_images|\.ci)/[\w./]*)`", text)
    named += re.findall(r"\]\((?!http)([\w./]+)\)", text)

    assert [name for name in named if not (ROOT / name.rstrip("/")).exists()] == []


def test_the_servers_run_uses_the_readmes_own_test_command():
    pattern = re.compile(r"^python3 -m venv .*-m pytest$", flags=re.MULTILINE)

    assert len(pattern.findall(README)) == 1
    assert "grep -m1 -E '^python3 -m venv .*-m pytest' README.md" in (ROOT / ".ci/run").read_text()
