#!/usr/bin/env bash
# Builds the wheel, installs it into an environment of its own outside the checkout, and runs the demo from there.
set -euo pipefail
here=$(cd "$(dirname "$0")/.." && pwd)
away=$(mktemp -d)
trap 'rm -rf "$away"' EXIT
"$here/.venv/bin/pip" wheel -q --no-deps -w "$away" "$here"
python3 -m venv --system-site-packages "$away/venv"
# the dependencies are those of the checkout's environment; only the package itself comes from the wheel
echo "import site; site.addsitedir('$("$here/.venv/bin/python" -c 'import sysconfig; print(sysconfig.get_paths()["purelib"])')')" > "$away/venv/lib/$(ls "$away/venv/lib")/site-packages/zz_deps.pth"
"$away/venv/bin/pip" install -q --no-deps --force-reinstall "$away"/buildplan-*.whl
cd "$away"
"$away/venv/bin/python" - <<'PY'
import pathlib, sys, buildplan
home = pathlib.Path(buildplan.__file__).resolve()
assert str(home).startswith(sys.prefix), f"the checkout was imported, not the wheel: {home}"
PY
"$away/venv/bin/buildplan" demo sprout
"$away/venv/bin/buildplan" plan sprout/build.toml --out out
test -s out/plan.json && test -s out/bill.csv && test -s out/report.html
"$away/venv/bin/buildplan" new mine && test -s mine/build.toml
"$away/venv/bin/buildplan" notebooks guided --no-start
cd guided/notebooks
"$away/venv/bin/python" - <<'PY'
import nbformat, sys
from nbclient import NotebookClient

for name in ("00-start-here.ipynb", "02-hours-grams-money.ipynb"):
    notebook = nbformat.read(name, as_version=4)
    where = "import buildplan; print(buildplan.__file__)"
    notebook.cells.append(nbformat.v4.new_code_cell(where))
    cells = NotebookClient(notebook, timeout=300, kernel_name="python3").execute().cells
    *outputs, last = [out for cell in cells for out in cell.get("outputs", [])]
    assert outputs and not [o for o in outputs if o.output_type in ("error", "stream")], name
    assert last.text.startswith(sys.prefix), f"{name} ran on {last.text.strip()}, not on the wheel"
PY
echo "the wheel works without the checkout"
