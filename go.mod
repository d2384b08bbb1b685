module gaitwright

go 1.26.0

require (
	codeberg.org/go-pdf/fpdf v0.12.0
	git.sr.ht/~sbinet/gg v0.8.0
	github.com/adrg/xdg v0.5.3
	github.com/alecthomas/kong v1.17.0
	github.com/ebitengine/purego v0.11.3
	github.com/goccy/go-yaml v1.19.2
	github.com/rogpeppe/go-internal v1.16.0
	github.com/santhosh-tekuri/jsonschema/v6 v6.0.3
	github.com/schollz/progressbar/v3 v3.19.1
	golang.org/x/image v0.47.0
	golang.org/x/sync v0.25.0
	golang.org/x/text v0.43.0
	gonum.org/v1/gonum v0.17.0
	pgregory.net/rapid v1.3.0
)

require (
	github.com/golang/freetype v0.0.0-20170609003504-e2365dfdc4a0 // indirect
	github.com/mitchellh/colorstring v0.0.0-20190213212951-d06e56a500db // indirect
	github.com/rivo/uniseg v0.4.7 // indirect
	golang.org/x/sys v0.49.0 // indirect
	golang.org/x/term v0.44.0 // indirect
	golang.org/x/tools v0.51.0 // indirect
)
