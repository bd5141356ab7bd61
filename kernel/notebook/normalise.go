package notebook

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strings"

	"rotorhum/kernel/pattern"
)

// Normalise brings nb to the one form in which it is written: every cell has a
// valid id of its own, cell text ends its lines with LF, and neighbouring
// pieces of the same stream are one output (front ends store a print in one
// piece or two, as the timing falls). It changes nothing the second time.
func (nb *Notebook) Normalise() {
	nb.giveIDs()
	for _, c := range nb.Cells {
		c.Source = strings.ReplaceAll(c.Source, "\r\n", "\n")
		c.Outputs = joinStreams(c.Outputs)
	}
	// Left behind by other programs for their own use; the reference tools
	// drop them as well.
	for _, key := range []string{"orig_nbformat", "orig_nbformat_minor", "signature"} {
		delete(nb.Metadata, key)
	}
	for _, c := range nb.Cells {
		delete(c.Metadata, "trusted")
	}
}

// validID is the pattern that nbformat 4.5 sets for cell ids.
var validID = pattern.New(`^[a-zA-Z0-9_-]{1,64}$`)

// giveIDs gives an id to every cell that has none of its own: none, an invalid
// one, or one that an earlier cell has. The new id depends on the cell's kind
// and text only (and on how many equal cells come before), so that it is the
// same on every machine and does not move when other cells come and go.
func (nb *Notebook) giveIDs() {
	taken := map[string]bool{}
	for _, c := range nb.Cells {
		if !validID.Regexp().MatchString(c.ID) || taken[c.ID] {
			c.ID = ""
			continue
		}
		taken[c.ID] = true
	}
	for _, c := range nb.Cells {
		for n := 0; c.ID == ""; n++ {
			sum := sha256.Sum256(fmt.Appendf(nil, "%s\n%d\n%s", c.Kind, n, c.Source))
			if id := hex.EncodeToString(sum[:4]); !taken[id] {
				c.ID = id
				taken[id] = true
			}
		}
	}
}

// joinStreams joins each run of outputs of the same stream into its first.
func joinStreams(outputs []*Output) []*Output {
	var joined []*Output
	for _, o := range outputs {
		if last := len(joined) - 1; o.Kind == StreamOutput && last >= 0 &&
			joined[last].Kind == StreamOutput && joined[last].Name == o.Name {
			joined[last].Text += o.Text
			continue
		}
		joined = append(joined, o)
	}
	return joined
}
