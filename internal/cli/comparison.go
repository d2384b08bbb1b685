package cli

import (
	"fmt"
	"io"
	"math"

	"gaitwright/internal/app"
)

// writeComparison prints contacts from motion against those from force, for the
// clips that have both.
func writeComparison(w io.Writer, s *app.Session) {
	for _, c := range s.ContactComparisons() {
		fmt.Fprintf(w, "\n%s: contacts from motion against force (50 N)\n", c.File)
		fmt.Fprintf(w, "  %-16s %8s %8s %8s\n", "", "bias ms", "SD ms", "contacts")
		for _, r := range c.Rows {
			fmt.Fprintf(w, "  %-16s %8s %8s %8d\n", r.What, figure("%+.1f", r.BiasS*1000), figure("%.1f", r.SDS*1000), r.Pairs)
		}
		fmt.Fprintf(w, "  step rate        %s by motion, %s by force (steps/min)\n", figure("%.2f", c.MotionStepRate), figure("%.2f", c.ForceStepRate))
		fmt.Fprintf(w, "  missed %d, extra %d in the part that both cover\n", c.Missed, c.Extra)
	}
}

func figure(format string, v float64) string {
	if math.IsNaN(v) {
		return "-"
	}
	return fmt.Sprintf(format, v)
}
