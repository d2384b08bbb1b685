// Command gaitwright measures how a person runs. See `gaitwright --help`.
package main

import (
	"context"
	"os"
	"os/signal"
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
	env.Serve = func(ctx context.Context, studio *app.Studio, listen string, ready func(string)) error {
		return web.Serve(ctx, studio, listen, ready)
	}
	app.Version = version
	return cli.Run(ctx, os.Args[1:], env)
}
