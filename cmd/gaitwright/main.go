// Command gaitwright measures how a person runs. See `gaitwright --help`.
package main

import (
	"context"
	"net"
	"os"
	"os/signal"
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
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	env := cli.Standard(version)
	env.Serve = serve
	app.Version = version
	return cli.Run(ctx, os.Args[1:], env)
}

// serve runs the pages until ctx ends.
func serve(ctx context.Context, studio *app.Studio, listen string, ready func(string)) error {
	host, port, err := net.SplitHostPort(listen)
	if err != nil {
		return &app.Problem{Kind: app.KindUsage, What: "--listen " + listen + " is not an address", Mend: "Write host:port, such as 127.0.0.1:8787."}
	}
	n, err := strconv.Atoi(port)
	if err != nil || n < 0 || n > 65535 {
		return &app.Problem{Kind: app.KindUsage, What: "--listen " + listen + " has no port number from 0 to 65535", Mend: "Write host:port, such as 127.0.0.1:8787."}
	}
	server := web.New(studio, web.Options{Host: host, Port: n})
	if err := server.Listen(); err != nil { // any free port was tried too
		return &app.Problem{Kind: app.KindUsage, What: err.Error(), Err: err}
	}
	ready(server.URL())
	defer studio.Close()
	studio.StartWork(ctx)
	return server.Run(ctx)
}
