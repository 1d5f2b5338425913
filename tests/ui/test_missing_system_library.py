"""A bare machine lacks libGL: the command line says which packages to install, nothing else."""

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]


def run_with_broken_cv2(tmp_path: Path, message: str) -> subprocess.CompletedProcess[str]:
    package = tmp_path / "cv2"
    package.mkdir()
    (package / "__init__.py").write_text(f"raise ImportError({message!r})\n", encoding="utf-8")
    return subprocess.run(
        [sys.executable, "-m", "ui", "demo", "--no-serve"],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(tmp_path)},
        capture_output=True,
        text=True,
        check=False,
    )


def test_a_missing_libgl_ends_in_one_sentence_that_names_the_packages(tmp_path):
    done = run_with_broken_cv2(
        tmp_path, "libGL.so.1: cannot open shared object file: No such file or directory"
    )

    assert done.returncode == 3
    assert done.stdout == ""
    assert "apt-get install -y libgl1 libglib2.0-0" in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1


def test_a_missing_opencv_points_to_the_requirements(tmp_path):
    done = run_with_broken_cv2(tmp_path, "No module named 'cv2'")

    assert done.returncode == 3
    assert "requirements.txt" in done.stderr
    assert "Traceback" not in done.stderr
