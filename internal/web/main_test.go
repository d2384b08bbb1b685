package web

import (
	"os"
	"testing"

	"gaitwright/internal/app"
)

// TestMain lets the test's binary go on errands as the program does.
func TestMain(m *testing.M) {
	app.Errands()
	os.Exit(m.Run())
}
