package app

import (
	"bytes"
	"context"
	"fmt"
	"image"
	_ "image/png" // pictures of codes
	"io"
	"os"
	"path/filepath"
	"strings"

	"gaitwright/internal/handout"
)

// TakeLogFiles takes a runner's log in from files: those that the phone saved, texts of
// codes, and pictures (PNG, JPEG) of its QR codes, of which a long log has several. Without files it tells what came back before.
func (st *Studio) TakeLogFiles(ctx context.Context, who, visitID string, files []string) (PageHandout, error) {
	var codes, logs []string
	for _, file := range files {
		data, err := readSmall(file, maxLogPicture)
		if err != nil {
			return PageHandout{}, err
		}
		head, kind, err := image.DecodeConfig(bytes.NewReader(data))
		switch {
		case err == nil && (head.Width > 2*codeSide || head.Height > 2*codeSide):
			return PageHandout{}, problem(KindUsage, filepath.Base(file), "Make it smaller.", "a picture of %d×%d pixels", head.Width, head.Height)
		case err == nil:
			picture, _, err := image.Decode(bytes.NewReader(data))
			if err != nil {
				return PageHandout{}, problem(KindUsage, filepath.Base(file), "", "the %s picture is broken", kind)
			}
			code := handout.ReadQR(picture)
			if code == "" {
				return PageHandout{}, problem(KindUsage, filepath.Base(file), "Take the picture from nearer, straight and in focus.", "no code of the homework is seen in this picture")
			}
			codes = append(codes, code)
		case bytes.HasPrefix(bytes.TrimSpace(bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))), []byte("{")):
			logs = append(logs, string(data))
		default:
			codes = append(codes, string(data))
		}
	}
	if len(codes) > 0 {
		logs = append(logs, strings.Join(codes, "\n"))
	}
	if len(files) == 0 {
		return st.Handout(ctx, visitID)
	}
	var p PageHandout
	var said []string
	for _, text := range logs {
		var err error
		if p, err = st.AddLog(ctx, who, visitID, PageLogAsk{Text: text}); err != nil {
			return p, err
		}
		said = append(said, p.Said...)
	}
	p.Said = said
	return p, nil
}

const maxLogPicture = 16 << 20

// readSmall reads a file of at most so many bytes.
func readSmall(file string, most int64) ([]byte, error) {
	f, err := os.Open(file)
	if err != nil {
		return nil, problem(KindUsage, file, "", "the file cannot be opened: %v", err)
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, most+1))
	if err != nil {
		return nil, problem(KindUsage, file, "", "the file cannot be read: %v", err)
	}
	if int64(len(data)) > most {
		return nil, problem(KindTooLarge, file, "", "the file is larger than %d MB, which no log is", most>>20)
	}
	return data, nil
}

// WriteLogWeeks prints what came back, a line a week.
func WriteLogWeeks(w io.Writer, p PageHandout) error {
	if len(p.Weeks) == 0 {
		_, err := fmt.Fprintln(w, "No log came back yet.")
		return err
	}
	for _, s := range p.Said {
		if _, err := fmt.Fprintln(w, s); err != nil {
			return err
		}
	}
	for _, k := range p.Weeks {
		pain := "not entered"
		if k.PainWorst != nil {
			pain = fmt.Sprintf("%d of 10", *k.PainWorst)
		}
		asked, counted := "–", "–"
		if k.Asked != nil {
			asked = fmt.Sprintf("%.0f", *k.Asked)
		}
		if k.PerMin != nil {
			counted = fmt.Sprintf("%.0f", *k.PerMin)
		}
		if k.PainNextDay {
			pain += ", still there the next day"
		}
		if k.Bone {
			pain += ", on one spot of a bone"
		}
		if k.Effort > 0 {
			pain += fmt.Sprintf("; effort %d of 10", k.Effort)
		}
		if k.Turned {
			pain += "; entered into the ramp"
		}
		if _, err := fmt.Fprintf(w, "\nweek from %s: asked %s, counted %s steps/min; %d of %d runs, %.0f min; %s on %s; pain %s\n  %s: %s\n", k.From, asked, counted, k.Runs, k.Planned, k.RunMin,
			plural(k.Exercises, "exercise", "exercises"), plural(k.ExerciseDays, "day", "days"), pain, k.Do, k.Why); err != nil {
			return err
		}
		for _, n := range k.Notes {
			if _, err := fmt.Fprintf(w, "  note: %s\n", n); err != nil {
				return err
			}
		}
	}
	return nil
}
