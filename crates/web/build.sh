#!/usr/bin/env bash
# Builds the JavaScript package and the page in crates/web: pointage.wasm, pointage.d.ts and dist/pointage.html.
# Needs Rust with the target wasm32-unknown-unknown, which rustup adds, and Node 20 or later; ends with 3 without them.
set -euo pipefail
cd "$(dirname "$0")/../.."
target=wasm32-unknown-unknown
missing() { echo "missing: $*" >&2; exit 3; }

command -v npm > /dev/null || missing "npm; install Node 20 or later"
node -e 'process.exit(parseInt(process.versions.node) < 20)' || missing "Node 20 or later"
if [ ! -d "$(rustc --print target-libdir --target $target)" ]; then
  rustup target add $target || missing "Rust's target $target"
fi
(cd crates/web && npm ci --silent) || missing "the packages of package-lock.json; they cannot be installed here"

# Small rather than fast, for a phone loads it; a panic ends the instance, which `load` then makes anew.
export CARGO_PROFILE_RELEASE_OPT_LEVEL=z CARGO_PROFILE_RELEASE_STRIP=true CARGO_PROFILE_RELEASE_PANIC=abort
cargo rustc -p pointage-api --release --lib --locked --features capi --crate-type cdylib --target $target
cp "${CARGO_TARGET_DIR:-target}/$target/release/pointage_api.wasm" crates/web/pointage.wasm
node crates/web/types.mjs
node crates/web/page/build.mjs
printf 'pointage.wasm: %s bytes gzipped\n' "$(gzip -9 < crates/web/pointage.wasm | wc -c)"
