package cli

type retestCommand struct {
	Now    string `arg:"" help:"The later visit, or a kept result: its name in the page's address."`
	Before string `arg:"" optional:"" help:"The earlier one; of a visit the one with a plan where it is left out."`
	JSON   bool   `help:"Print what the page gets."`
}

// Run prints what really changed between two visits.
func (c *retestCommand) Run(r *run) error {
	studio, err := r.studio()
	if err != nil {
		return err
	}
	text, err := studio.Retest(r.ctx, c.Now, c.Before, c.JSON)
	if err != nil {
		return err
	}
	r.printf("%s", text)
	return nil
}
