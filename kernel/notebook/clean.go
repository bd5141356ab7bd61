package notebook

// KeepOutput is the tag of a code cell whose outputs [Notebook.Clean] leaves in
// place.
const KeepOutput = "keep-output"

// Clean removes what running and looking at a notebook leave behind: outputs
// (except of cells tagged [KeepOutput]), execution counts, times, the state of
// the page (except that the outputs of cells tagged [SolutionTag] are folded),
// where the outputs came from, and the version numbers of the machine it ran on.
// What is left is what a person wrote, so that a change in version control is a
// change somebody made. Clean also normalises nb, see [Notebook.Normalise].
//
// With keepOutputs all outputs stay, and where they came from; only the rest is
// removed.
func (nb *Notebook) Clean(keepOutputs bool) {
	for _, c := range nb.Cells {
		if c.Kind == CodeCell {
			c.Count = 0
			if !keepOutputs && !c.Tagged(KeepOutput) {
				c.Outputs = nil
			}
			for _, o := range c.Outputs {
				o.Count = 0
			}
		}
		for _, key := range []string{"execution", "collapsed", "scrolled", "ExecuteTime"} {
			delete(c.Metadata, key)
		}
		if j, ok := c.Metadata["jupyter"].(map[string]any); ok {
			if !c.Tagged(SolutionTag) {
				delete(j, "outputs_hidden")
			}
			if len(j) == 0 {
				delete(c.Metadata, "jupyter")
			}
		}
	}
	if !keepOutputs {
		nb.setProvenance(nil)
	}
	delete(nb.Metadata, "widgets")
	if info, ok := nb.Metadata["language_info"].(map[string]any); ok {
		delete(info, "version")
	}
	nb.Normalise()
}
