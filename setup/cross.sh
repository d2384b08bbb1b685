#!/bin/sh
# Proves that the program builds without cgo for each system it is meant for.
set -eu
cd "$(dirname "$0")/.."
for os in linux darwin windows; do
	for arch in amd64 arm64; do
		printf 'build %s/%s\n' "$os" "$arch"
		CGO_ENABLED=0 GOOS=$os GOARCH=$arch go build -o /dev/null ./cmd/gaitwright
	done
done
