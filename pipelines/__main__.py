"""`python -m pipelines` is `musterbook`, where its folder is not on the path."""

import runpy
from pathlib import Path

if __name__ == "__main__":
    runpy.run_path(str(Path(__file__).with_name("musterbook")), run_name="__main__")
