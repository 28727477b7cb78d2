#!/bin/sh
# Builds the engine as WebAssembly, with all that is needed for it, on Debian 12:
#   build-web/proveout.html          the whole dry run in one file that a browser opens
#   build-web/proveout-VERSION.tgz   the command line for Node: npx ./proveout-VERSION.tgz run JOB.toml
# Source packages come from Debian's archive and the page's packages from npm, once; after that no network is needed,
# and only what has changed is compiled. PROVEOUT_MIRROR names another archive, PROVEOUT_WEB_BUILD another folder,
# PROVEOUT_WEB_SOURCES the folder of the source packages, PROVEOUT_WEB_JOBS how many compilers at once.
set -eu
cd "$(dirname "$0")/../.."
. fixtures/packages.sh
build=$(mkdir -p "${PROVEOUT_WEB_BUILD:-build-web}" && cd "${PROVEOUT_WEB_BUILD:-build-web}" && pwd)
# Debian's emscripten is started by Debian's python, whatever else is called so, and finds its optimizer's parser here.
export EMSDK_PYTHON=/usr/bin/python3 NODE_PATH=/usr/share/nodejs

# shellcheck disable=SC2086
need_packages $build_packages emscripten xz-utils bzip2 ca-certificates
need_node

# ---- the libraries' sources, as Debian packs them; its patches are for other systems
sources=$(mkdir -p "${PROVEOUT_WEB_SOURCES:-$build/sources}" && cd "${PROVEOUT_WEB_SOURCES:-$build/sources}" && pwd)
source_packages="onetbb openvdb pugixml zlib libpng1.6 meshoptimizer libmd boost1.74"
fetch_sources() {
  lists=$sources/lists
  mkdir -p "$lists/partial"
  . /etc/os-release
  for suite in "$VERSION_CODENAME" "$VERSION_CODENAME-updates"; do
    echo "deb-src ${PROVEOUT_MIRROR:-http://deb.debian.org/debian} $suite main"
  done >"$sources/sources.list"
  own="-o Dir::Etc::SourceList=$sources/sources.list -o Dir::Etc::SourceParts=/dev/null -o Dir::State::Lists=$lists
    -o APT::Sandbox::User=$(id -un)"
  # shellcheck disable=SC2086
  (cd "$sources" && apt-get $own update -qq && apt-get $own source --tar-only --download-only -qq $source_packages)
  for packed in "$sources"/*.orig.tar.*; do
    case $packed in
      *.asc) ;;
      */boost*) tar -xf "$packed" -C "$sources" --wildcards '*/libs/program_options/src/*' ;;
      *) tar -xf "$packed" -C "$sources" ;;
    esac
  done
  touch "$sources/complete"
}
if [ ! -f "$sources/complete" ]; then
  echo "== fetching sources: $source_packages"
  fetch_sources
fi

# ---- the page of results, the same as in the native program (report/page/page.cmake), and the page about it
page=$build/page
mkdir -p "$page"
if ! cmp -s report/page/package-lock.json "$page/packages.stamp"; then
  echo "== fetching the page's packages"
  cp report/page/package.json report/page/package-lock.json "$page"
  (cd "$page" && npm ci --omit=dev --no-audit --no-fund --loglevel=error)
  cp report/page/package-lock.json "$page/packages.stamp"
fi
# A copy of both pages' sources, in the tree's own order: what they import is found in the packages above it.
rm -rf "$page/report"
mkdir -p "$page/report/page" "$page/report/web"
cp -r report/page/src report/page/build.mjs report/page/tsconfig.json report/page/package.json "$page/report/page"
cp -r report/web/page "$page/report/web"
(cd "$page/report/page" && node build.mjs)
# Unchanged, it keeps its date: nothing is linked again for it.
cmp -s "$page/report/page/page.html" "$build/results_page.html" || cp "$page/report/page/page.html" "$build/results_page.html"

# ---- the engine
version=$(sed -n 's/^project(proveout VERSION \([0-9.]*\).*/\1/p' CMakeLists.txt)
dated=$(sed -n 's/^set(PROVEOUT_DATE \([0-9-]*\)).*/\1/p' CMakeLists.txt)
cmake -S report/web -B "$build" -G Ninja -DCMAKE_BUILD_TYPE=None \
  -DCMAKE_TOOLCHAIN_FILE=/usr/share/emscripten/cmake/Modules/Platform/Emscripten.cmake \
  -DPROVEOUT_SOURCES="$sources" -DPROVEOUT_PAGE_HTML="$build/results_page.html" -DPROVEOUT_VERSION="$version" \
  -DPROVEOUT_DATE="$dated" >"$build/configured.txt" ||
  { cat "$build/configured.txt"; exit 1; }
echo "== compiling"
cmake --build "$build" --parallel "${PROVEOUT_WEB_JOBS:-$(nproc)}"

# ---- the command line as a package for Node
package=$build/package
rm -rf "$package"
mkdir -p "$package"
cp report/web/node/proveout.cjs report/web/node/README.md LICENSE "$package"
cp "$build/proveout_node.js" "$package/engine.js"
cp "$build/proveout_node.wasm" "$package/engine.wasm"
sed "s/VERSION/$version/" report/web/node/package.in.json >"$package/package.json"
(cd "$build" && rm -f proveout-*.tgz && npm pack --silent ./package)

# ---- the page
PROVEOUT_ROOT=$PWD PROVEOUT_WEB_BUILD=$build PROVEOUT_VERSION=$version node "$page/report/web/page/bundle.mjs"
ls -l "$build/proveout.html" "$build/proveout-$version.tgz"
