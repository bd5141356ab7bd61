package session

import (
	"runtime"
	"strings"

	"rotorhum/kernel/wire"
)

// About describes the program to front ends.
type About struct {
	Version string // of the program
	Banner  string // what a console shows when it starts
}

type kernelInfoReply struct {
	Status          string       `json:"status"`
	ProtocolVersion string       `json:"protocol_version"`
	Implementation  string       `json:"implementation"`
	Version         string       `json:"implementation_version"`
	Language        languageInfo `json:"language_info"`
	Banner          string       `json:"banner"`
	Debugger        bool         `json:"debugger"`
	Features        []string     `json:"supported_features"`
	HelpLinks       []helpLink   `json:"help_links"`
}

// languageInfo is what front ends colour, indent and save a Go notebook by. It
// names no nbconvert exporter: the general one for scripts is right.
type languageInfo struct {
	Name       string `json:"name"`
	Version    string `json:"version"`
	MIMEType   string `json:"mimetype"`
	Extension  string `json:"file_extension"`
	Pygments   string `json:"pygments_lexer"`
	CodeMirror string `json:"codemirror_mode"`
}

type helpLink struct {
	Text string `json:"text"`
	URL  string `json:"url"`
}

func kernelInfo(r *request) (any, error) {
	return kernelInfoReply{
		Status: "ok", ProtocolVersion: wire.Version,
		Implementation: "rotorhum", Version: r.s.opt.About.Version,
		Language: languageInfo{
			Name: "go", Version: strings.TrimPrefix(runtime.Version(), "go"), MIMEType: "text/x-go",
			Extension: ".go", Pygments: "go", CodeMirror: "go",
		},
		Banner: r.s.opt.About.Banner, Features: []string{}, HelpLinks: []helpLink{},
	}, nil
}
