package app

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"errors"
	"fmt"
	"runtime/debug"
	"strings"
	"sync"
	"unicode/utf8"

	"golang.org/x/crypto/argon2"
	"golang.org/x/text/unicode/norm"

	"gaitwright/internal/store"
)

// The passphrase lets other devices of the studio's network in. It is kept as
// its Argon2id hash alone, in the PHC string form.
const settingPassphrase = "passphrase"

// The length of a passphrase in characters. Eight is the least that NIST SP
// 800-63B lets a person choose (from memory); it guards films of people, so two
// more are asked.
const (
	MinPassphrase = 10
	MaxPassphrase = 200
)

// hashCost is what one guess costs: the second recommended option of RFC 9106,
// section 4, for machines that cannot spare 2 GiB: 3 passes over 64 MiB in 4
// lanes, a salt of 128 bits and a tag of 256.
var hashCost = cost{memoryKiB: 64 << 10, passes: 3, lanes: 4}

// guessing lets one guess at a time use its memory.
var guessing sync.Mutex

type cost struct {
	memoryKiB, passes uint32
	lanes             uint8
}

const (
	saltBytes = 16
	tagBytes  = 32
)

// HasPassphrase tells whether one was set.
func (st *Studio) HasPassphrase(ctx context.Context) (bool, error) {
	kept, err := st.keptPassphrase(ctx)
	return kept != "", err
}

func (st *Studio) keptPassphrase(ctx context.Context) (string, error) {
	var kept string
	err := st.readRecords(ctx, func(r store.Reader) (err error) { kept, err = r.Setting(settingPassphrase); return err })
	return kept, err
}

// SetPassphrase keeps the hash of a passphrase, or says why it is too weak.
func (st *Studio) SetPassphrase(ctx context.Context, text string) error {
	text = plainPassphrase(text)
	if err := weak(text); err != nil {
		return err
	}
	salt := make([]byte, saltBytes)
	rand.Read(salt) // never fails
	kept := hashCost.phc(salt, hashCost.tag(text, salt))
	return st.change(ctx, "", "Set the passphrase", "", func(w store.Writer) error { return w.PutSetting(settingPassphrase, kept) })
}

// CheckPassphrase tells whether text is the passphrase. It takes some tenths of a
// second and 64 MB, one caller at a time, so that guesses cannot use up the
// machine.
func (st *Studio) CheckPassphrase(ctx context.Context, text string) (bool, error) {
	kept, err := st.keptPassphrase(ctx)
	if err != nil {
		return false, err
	}
	if kept == "" {
		return false, problem(KindUsage, "", "Start with --lan once at a terminal to set one.", "no passphrase was set")
	}
	c, salt, tag, err := parsePHC(kept)
	if err != nil {
		return false, &Problem{Kind: KindUnexpected, What: "the kept passphrase cannot be read: " + err.Error(), Mend: "Set it anew with --new-passphrase.", Err: err}
	}
	guessing.Lock()
	defer guessing.Unlock()
	if err := ctx.Err(); err != nil {
		return false, err
	}
	if len(text) > 4*MaxPassphrase {
		return false, nil
	}
	return subtle.ConstantTimeCompare(c.tag(plainPassphrase(text), salt), tag) == 1, nil
}

// plainPassphrase makes alike what different keyboards give for the same keys.
func plainPassphrase(text string) string { return norm.NFC.String(strings.TrimSpace(text)) }

// weak says why a passphrase will not do.
func weak(text string) error {
	kinds := map[rune]bool{}
	for _, r := range text {
		kinds[r] = true
	}
	const mend = "Four words that do not belong together are easy to keep and hard to guess."
	switch n := utf8.RuneCountInString(text); {
	case !utf8.ValidString(text) || strings.ContainsFunc(text, func(r rune) bool { return r < ' ' || r == 0x7f }):
		return problem(KindUsage, "", mend, "the passphrase has signs that no keyboard gives")
	case n < MinPassphrase:
		return problem(KindUsage, "", mend, "the passphrase has %d characters and needs at least %d", n, MinPassphrase)
	case n > MaxPassphrase:
		return problem(KindUsage, "", mend, "the passphrase has more than %d characters", MaxPassphrase)
	case len(kinds) < 5:
		return problem(KindUsage, "", mend, "the passphrase is made of too few different characters")
	}
	return nil
}

func (c cost) tag(text string, salt []byte) []byte {
	// The 64 MB are given back at once, not when the program next needs memory.
	defer debug.FreeOSMemory()
	return argon2.IDKey([]byte(text), salt, c.passes, c.memoryKiB, c.lanes, tagBytes)
}

// phc writes a hash in the PHC string form.
func (c cost) phc(salt, tag []byte) string {
	b := base64.RawStdEncoding
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version, c.memoryKiB, c.passes, c.lanes, b.EncodeToString(salt), b.EncodeToString(tag))
}

// parsePHC reads a hash that phc wrote, also at another cost within reason.
func parsePHC(s string) (c cost, salt, tag []byte, err error) {
	bad := errors.New("it is not an Argon2id hash in the PHC string form")
	part := strings.Split(s, "$")
	if len(part) != 6 || part[0] != "" || part[1] != "argon2id" || part[2] != fmt.Sprintf("v=%d", argon2.Version) {
		return c, nil, nil, bad
	}
	if _, err := fmt.Sscanf(part[3], "m=%d,t=%d,p=%d", &c.memoryKiB, &c.passes, &c.lanes); err != nil {
		return c, nil, nil, bad
	}
	salt, err1 := base64.RawStdEncoding.DecodeString(part[4])
	tag, err2 := base64.RawStdEncoding.DecodeString(part[5])
	if err1 != nil || err2 != nil || c.phc(salt, tag) != s || len(salt) < 8 || len(tag) != tagBytes ||
		c.memoryKiB < 8*uint32(c.lanes) || c.memoryKiB > 1<<20 || c.passes < 1 || c.passes > 100 || c.lanes < 1 {
		return c, nil, nil, bad
	}
	return c, salt, tag, nil
}
