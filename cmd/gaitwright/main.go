// Command gaitwright measures how a person runs. See `gaitwright --help`.
package main

import (
	"context"
	"net"
	"os"
	"os/signal"
	"path/filepath"
	"strconv"
	"syscall"

	"gaitwright/internal/app"
	"gaitwright/internal/cli"
	"gaitwright/internal/web"
)

// version is set when the program is linked.
var version = "unversioned"

func main() { os.Exit(run()) }

func run() int {
	app.Version = version
	app.Errands()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	env := cli.Standard(version)
	env.Serve = serve
	return cli.Run(ctx, os.Args[1:], env)
}

// serve runs the pages until ctx ends.
func serve(ctx context.Context, studio *app.Studio, ask cli.ServeRequest) error {
	defer studio.Close()
	host, port, err := net.SplitHostPort(ask.Listen)
	if err != nil {
		return &app.Problem{Kind: app.KindUsage, What: "--listen " + ask.Listen + " is not an address", Mend: "Write host:port, such as 127.0.0.1:8787."}
	}
	n, err := strconv.Atoi(port)
	if err != nil || n < 0 || n > 65535 {
		return &app.Problem{Kind: app.KindUsage, What: "--listen " + ask.Listen + " has no port number from 0 to 65535", Mend: "Write host:port, such as 127.0.0.1:8787."}
	}
	opts := web.Options{Host: host, Port: n}
	if ask.LAN {
		opts.LAN = &web.LAN{Port: web.DefaultLANPort, Dir: filepath.Join(studio.Dir(), app.LANFolder), Check: studio.CheckPassphrase}
	}
	server := web.New(studio, opts)
	if err := server.Listen(); err != nil { // any free port was tried too
		return &app.Problem{Kind: app.KindUsage, What: err.Error(), Err: err}
	}
	at := cli.Served{URL: server.URL()}
	if s := server.LAN(); s.On {
		at.LAN, at.Fingerprint = s.URLs, s.Fingerprint
		if at.Code, err = web.CodeText(s.URLs[0]); err != nil {
			return err
		}
	}
	ask.Ready(at)
	studio.StartWork(ctx)
	return server.Run(ctx)
}
