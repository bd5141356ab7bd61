package provenance

// Record is where the results of a session came from. Its JSON form is what
// notebooks store.
type Record struct {
	Program Program `json:"program"`
	// Seed is what the global random functions started from (math/rand and
	// math/rand/v2, as cells see them); RandomDraws counts what was drawn from
	// them, as far as the session could see.
	Seed        uint64 `json:"seed"`
	RandomDraws int    `json:"random_draws"`
	// Files are what the session has read, by name and then by hash.
	Files []File `json:"files"`
	// Runs are the cells that ran, in order.
	Runs []Run `json:"runs"`
}

// Program is what computed the results.
type Program struct {
	// Version is the kernel's version; "devel" for one built from a checkout.
	Version string `json:"version"`
	// Revision is the commit of the source, "" if the build does not know it;
	// Modified reports that the source had changes on top of it.
	Revision string `json:"revision,omitempty"`
	Modified bool   `json:"modified,omitempty"`
	// Go is the version of Go; Platform is the system and the processor,
	// such as "linux/amd64", with the level of its instructions if it is known.
	Go       string `json:"go"`
	Platform string `json:"platform"`
	// Modules are the versions of the Go modules that are part of the program,
	// by path.
	Modules map[string]string `json:"modules"`
}

// File is a file that was read.
type File struct {
	// Name is what the cell called it; a name inside the session's folder is
	// relative to it, with slashes.
	Name string `json:"name"`
	// SHA256 is the hash of its content in hexadecimal. It is "" if the file
	// could not be hashed, and Why says why.
	SHA256 string `json:"sha256,omitempty"`
	Size   int64  `json:"size"`
	Why    string `json:"why,omitempty"`
}

// Run is a cell that ran.
type Run struct {
	// Name is the cell's name in messages, such as "In[3]".
	Name string `json:"name"`
	// Cell is the cell's id in its notebook, "" if it is unknown.
	Cell string `json:"cell,omitempty"`
	// Source is the SHA-256 of its text in hexadecimal.
	Source string `json:"source"`
	// Failed reports that it ended with an error.
	Failed bool `json:"failed,omitempty"`
	// Varies says, one sentence each, why its output may differ from run to run.
	Varies []string `json:"varies,omitempty"`
}
