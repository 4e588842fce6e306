#!/usr/bin/env bash
# Runs one of the README's two command blocks as it is printed there: demo or tests.
set -euo pipefail
cd "$(dirname "$0")/.."
python3 - "$1" <<'PY' > .ci/.command
import re, sys
text = open("README.md", encoding="utf-8").read()
blocks = dict(re.findall(r"<!-- command: (\w+) -->\s*```bash\n(.*?)```", text, flags=re.S))
sys.stdout.write("set -euo pipefail\n" + blocks[sys.argv[1]])
PY
trap 'rm -f .ci/.command' EXIT
cat .ci/.command
bash .ci/.command
