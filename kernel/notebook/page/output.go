package page

import (
	"encoding/base64"
	"encoding/json"
	"fmt"
	"html"
	"strings"

	"rotorhum/kernel/cell"
	"rotorhum/kernel/notebook"
)

func escapeText(s string) string { return html.EscapeString(s) }

// outputHTML returns one output of a code cell as HTML.
func (b *builder) outputHTML(o *notebook.Output) string {
	switch o.Kind {
	case notebook.StreamOutput:
		if o.Name == "stderr" {
			return labelled("note", "Message", `<pre>`+terminalHTML(strings.TrimRight(o.Text, "\n"))+`</pre>`)
		}
		return `<pre class="out">` + terminalHTML(strings.TrimRight(o.Text, "\n")) + `</pre>`
	case notebook.ErrorOutput:
		text := strings.Join(o.Traceback, "\n")
		if strings.TrimSpace(text) == "" {
			text = o.ErrorName + ": " + o.ErrorValue
		}
		return labelled("error", "Error: "+o.ErrorName, `<pre>`+terminalHTML(strings.TrimRight(text, "\n"))+`</pre>`)
	}
	return b.bundleHTML(o.Bundle)
}

// labelled sets body apart under a label, so that colour is not the only sign.
func labelled(class, label, body string) string {
	return `<div class="` + class + `"><p class="label">` + escapeText(label) + `</p>` + body + `</div>`
}

// bundleHTML shows the richest representation of a value that this page can
// show whole.
func (b *builder) bundleHTML(v cell.Bundle) string {
	text := func(mime string) string {
		s, _ := v.Data[mime].(string)
		return s
	}
	if s := text("text/html"); s != "" {
		// What is only script or style leaves nothing.
		if h := (fragment{}).html(s); strings.TrimSpace(h) != "" {
			return `<div class="rich">` + h + `</div>`
		}
	}
	for _, mime := range pictureTypes {
		if s := text(mime); s != "" && (mime == "image/svg+xml" || isBase64(s)) {
			return pictureHTML(mime, s, v)
		}
	}
	for _, mime := range []string{"audio/wav", "audio/x-wav", "audio/mpeg", "audio/ogg", "audio/flac"} {
		if s := text(mime); s != "" && isBase64(s) {
			return `<figure><audio controls src="` + escapeText(dataAddress(mime, s)) + `"></audio>` +
				`<figcaption>` + escapeText(words(text("text/plain"))) + `</figcaption></figure>`
		}
	}
	if s := text("text/markdown"); s != "" {
		return `<div class="rich">` + b.markdown.html(s, nil) + `</div>`
	}
	if s := text("text/latex"); s != "" {
		return `<div class="rich">` + mathHTML(strings.Trim(strings.TrimSpace(s), "$"), true) + `</div>`
	}
	if s := text("text/plain"); s != "" {
		return `<pre class="out">` + terminalHTML(strings.TrimRight(s, "\n")) + `</pre>`
	}
	if j, ok := v.Data["application/json"]; ok {
		if s, err := json.MarshalIndent(j, "", "  "); err == nil {
			return `<pre class="out">` + escapeText(string(s)) + `</pre>`
		}
	}
	return ""
}

// pictureHTML shows a picture in an image element, where nothing in it can run.
// The words that stand for it are its own alt text, else the value's text.
func pictureHTML(mime, content string, v cell.Bundle) string {
	own, _ := v.Metadata[mime].(map[string]any)
	alt, _ := own["alt"].(string)
	if alt == "" {
		plain, _ := v.Data["text/plain"].(string)
		alt = words(plain)
	}
	if alt == "" {
		alt = "picture without a description"
	}
	size := ""
	for _, side := range []string{"width", "height"} {
		if n, ok := own[side].(json.Number); ok {
			if i, err := n.Int64(); err == nil && i > 0 && i < 20000 {
				size += fmt.Sprintf(` %s="%d"`, side, i)
			}
		}
	}
	return `<figure><img src="` + escapeText(dataAddress(mime, content)) + `" alt="` + escapeText(alt) + `"` + size + `></figure>`
}

// words returns text as one line of at most 400 characters.
func words(text string) string {
	r := []rune(strings.Join(strings.Fields(text), " "))
	if len(r) > 400 {
		return string(r[:400]) + "…"
	}
	return string(r)
}

func isBase64(s string) bool {
	_, err := base64.StdEncoding.DecodeString(strings.Join(strings.Fields(s), ""))
	return err == nil
}
