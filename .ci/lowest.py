"""Print the lowest version of every dependency that pyproject.toml allows, as pins for pip."""

import re
import tomllib
from pathlib import Path

project = tomllib.loads((Path(__file__).parent.parent / "pyproject.toml").read_text("utf-8"))["project"]
for wanted in project["dependencies"]:
    name, lowest = re.match(r"([\w-]+)>=([\w.]+)", wanted).groups()
    print(f"{name}=={lowest}")
