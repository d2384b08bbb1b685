package cli

import (
	"context"
	"os"
	"testing"
)

// TestMain lets the test's binary stand in for the program.
func TestMain(m *testing.M) {
	if os.Getenv("GAITWRIGHT_TEST_RUN") != "" {
		os.Exit(Run(context.Background(), os.Args[1:], Environment{Stdin: os.Stdin, Stdout: os.Stdout, Stderr: os.Stderr, Version: "test"}))
	}
	os.Exit(m.Run())
}
