#!/bin/sh
# Installs what the program uses but does not contain: ffmpeg from the system's
# packages, the pose model and the inference library from npm at locked versions
# with checked integrity. With --tests also what only the tests need: a browser,
# a PDF reader and the page's own build packages. What is there already is left.
set -eu
here=$(cd "$(dirname "$0")" && pwd)
root=$(dirname "$here")
tests=no
[ "${1:-}" = "--tests" ] && tests=yes

say() { printf 'setup: %s\n' "$*"; }
have() { command -v "$1" >/dev/null 2>&1; }

as_root() {
	if [ "$(id -u)" = 0 ]; then "$@"; elif have sudo; then sudo "$@"; else
		say "needs the right to install packages: run as root or install sudo"; exit 4
	fi
}

want=""
have ffmpeg && have ffprobe || want="$want ffmpeg"
if [ $tests = yes ]; then
	have chromium || have chromium-browser || have google-chrome || want="$want chromium"
	have pdftoppm || want="$want poppler-utils"
	have xmllint || want="$want libxml2-utils"
	have gpsbabel || want="$want gpsbabel"
fi
if [ -n "$want" ]; then
	if have apt-get; then
		say "installing$want"
		as_root apt-get update -q
		# shellcheck disable=SC2086 -- a list of names
		as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y -q --no-install-recommends $want
	else
		say "please install by hand:$want"
		say "macOS: brew install ffmpeg    Windows: winget install ffmpeg"
		exit 4
	fi
fi

if ! have npm; then
	say "npm is missing: install Node.js 20 or later, then run this again"
	exit 4
fi
stamp="$here/node_modules/.installed"
if [ ! -f "$stamp" ] || [ "$here/package-lock.json" -nt "$stamp" ]; then
	say "installing the pose model and the inference library"
	# The library of an older release is only for Macs with Intel processors.
	omit="--omit=optional"
	[ "$(uname -s)/$(uname -m)" = "Darwin/x86_64" ] && omit=""
	# shellcheck disable=SC2086 -- empty or one word
	npm ci --ignore-scripts --no-audit --no-fund $omit --prefix "$here"
	touch "$stamp"
fi
if [ $tests = yes ] && have apt-get && have dpkg-deb && [ ! -f "$here/schemas/gpx11.xsd" ]; then
	# The published schema of GPX comes with an album of photographs that reads it;
	# nothing else of that package is kept. Its one test is left out without it.
	into=$(mktemp -d)
	if (cd "$into" && apt-get download -q zoph >/dev/null 2>&1 &&
		dpkg-deb --fsys-tarfile zoph_*.deb | tar -x ./usr/share/zoph/www/php/xml/gpx11.xsd); then
		mkdir -p "$here/schemas"
		mv "$into/usr/share/zoph/www/php/xml/gpx11.xsd" "$here/schemas/"
		say "the schema of GPX is installed"
	else
		say "the schema of GPX could not be had; its test is left out"
	fi
	rm -rf "$into"
fi
if [ $tests = yes ]; then
	stamp="$root/ui/node_modules/.installed"
	if [ ! -f "$stamp" ] || [ "$root/ui/package-lock.json" -nt "$stamp" ]; then
		say "installing what the page's tests need"
		npm ci --ignore-scripts --no-audit --no-fund --prefix "$root/ui"
		touch "$stamp"
	fi
fi
say "ready"
