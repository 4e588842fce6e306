#!/usr/bin/env bash
# Writes ../bundle from the files here: one script, one style sheet, the notice of what is inside.
set -euo pipefail
cd "$(dirname "$0")"
export LC_ALL=C
trap 'rm -rf node_modules' EXIT
# the lock file names versions and their hashes, no registry
npm ci --ignore-scripts --no-audit --no-fund --silent
sum=$(cat ./*.js view.css package.json | sha256sum | cut -d' ' -f1)
mkdir -p ../bundle
npx esbuild view.js --bundle --format=esm --target=es2022 --minify --legal-comments=none \
  --banner:js="/* Built from source/ (sha256 $sum) with three.js, MIT: see three.LICENSE.txt */" \
  --outfile=../bundle/view.js
cp view.css ../bundle/view.css
cp node_modules/three/LICENSE ../bundle/three.LICENSE.txt
