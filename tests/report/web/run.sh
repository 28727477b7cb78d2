#!/bin/sh
# Builds the WebAssembly of report/web and holds it to the native program of the build folder (PROVEOUT_BUILD).
set -eu
cd "$(dirname "$0")/../../.."
root=$PWD
build=${PROVEOUT_BUILD:-build}
web=${PROVEOUT_WEB_BUILD:-build-web}
. fixtures/packages.sh
need_packages chromium firefox-esr unzip
sh report/web/build.sh
cmake --build "$build" --target proveout
tests=$web/tests
mkdir -p "$tests/node"
cp tests/report/web/*.mjs tests/report/page/browser.mjs tests/report/page/package.json tests/report/page/package-lock.json "$tests"
if ! cmp -s "$tests/package-lock.json" "$tests/packages.stamp"; then
  (cd "$tests" && PLAYWRIGHT_SKIP_BROWSER_DOWNLOAD=1 npm ci --no-audit --no-fund --loglevel=error)
  cp "$tests/package-lock.json" "$tests/packages.stamp"
fi
for source in job_text layout_text save watched_folder; do
  "$web/page/node_modules/.bin/esbuild" "report/web/page/$source.ts" --bundle --format=esm --outfile="$tests/$source.mjs" --log-level=error
done
rm -rf "$tests/installed" && mkdir -p "$tests/installed"
echo '{}' >"$tests/installed/package.json"  # else npm installs into the folder above, which has one
(cd "$tests/installed" && npm install --silent --no-audit --no-fund --offline "$root/$web"/proveout-*.tgz)
cd "$tests"
PROVEOUT_NATIVE=$root/$build/report/proveout PROVEOUT_ROOT=$root PROVEOUT_HTML=$root/$web/proveout.html \
  PROVEOUT_NODE_COMMAND=$root/$tests/installed/node_modules/.bin/proveout node --test --test-concurrency=1 "${@:-.}"
