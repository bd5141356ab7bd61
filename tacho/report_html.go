package tacho

import (
	"bytes"
	"encoding/base64"
	"html/template"
	"io"
	"strings"
)

// Illustration is a picture for the HTML page of a measurement.
type Illustration struct {
	// Alt says in words what the picture shows.
	Alt string
	// PNG is the picture as a PNG file, and Width the width in CSS pixels at
	// which it is meant to be seen.
	PNG   []byte
	Width int
}

// HTML returns the report as a piece of HTML, for a notebook. Whatever comes
// from outside, such as a file name, is escaped.
func (m *Measurement) HTML() string {
	var b bytes.Buffer
	if err := reportTemplate.ExecuteTemplate(&b, "fragment", m.page(nil)); err != nil {
		// The template is fixed and its data are strings.
		panic("tacho: " + err.Error())
	}
	return lowerHeadings.Replace(b.String())
}

// lowerHeadings puts the headings of a report below those of a notebook. Texts
// cannot be hit: their angle brackets are escaped.
var lowerHeadings = strings.NewReplacer("<h2>", "<h4>", "</h2>", "</h4>")

// WritePage writes the report as an HTML page that needs no other file: the
// pictures are inside, and it runs no script. Whatever comes from outside,
// such as a file name, is escaped. It returns ErrOption if a picture is not a
// PNG file or has no Alt text, and the errors of w.
func (m *Measurement) WritePage(w io.Writer, pictures ...Illustration) error {
	for i, p := range pictures {
		if !bytes.HasPrefix(p.PNG, []byte("\x89PNG\r\n\x1a\n")) {
			return optionError("picture %d of the page is not a PNG file", i+1)
		}
		if p.Alt == "" {
			return optionError("picture %d of the page does not say in Alt what it shows", i+1)
		}
	}
	var b bytes.Buffer
	if err := reportTemplate.ExecuteTemplate(&b, "page", m.page(pictures)); err != nil {
		return err
	}
	_, err := w.Write(b.Bytes())
	return err
}

// pageData is what the template lays out.
type pageData struct {
	Title, Headline, Advice   string
	Reading                   bool
	Reasons, Others, Warnings []string
	Answers, Budget, Facts    template.HTML // tables, made by htmlTable, which escapes
	Cautions                  []Caution
	Note                      string
	Pictures                  []pagePicture
}

type pagePicture struct {
	Alt   string
	Width int
	URL   template.URL
}

func (m *Measurement) page(pictures []Illustration) pageData {
	r := m.report()
	p := pageData{
		Title:    m.Recording.File,
		Headline: r.headline,
		Advice:   r.advice,
		Reading:  len(r.answers) > 0,
		Reasons:  r.reasons,
		Others:   r.others,
		Warnings: r.warnings,
		Cautions: r.cautions,
		Note:     CautionNote,
	}
	var rows [][]string
	for _, a := range r.answers {
		rows = append(rows, []string{a.what, a.value, a.interval})
	}
	p.Answers = template.HTML(htmlTable([]string{"", "value", "95 % interval"}, rows))
	rows = nil
	heads := []string{"cause", "shaft speed", "share"}
	if m.Derived != nil && m.Derived.Tip != nil {
		heads = append(heads, "tip speed", "share")
	}
	for _, c := range r.budget {
		rows = append(rows, []string{c.name, orDash(c.speed), c.speedShare, orDash(c.tip), c.tipShare}[:len(heads)])
	}
	p.Budget = template.HTML(htmlTable(heads, rows))
	rows = nil
	for _, f := range r.facts {
		rows = append(rows, []string{f.what, f.text})
	}
	p.Facts = template.HTML(htmlTable(nil, rows))
	for _, pic := range pictures {
		p.Pictures = append(p.Pictures, pagePicture{pic.Alt, pic.Width,
			template.URL("data:image/png;base64," + base64.StdEncoding.EncodeToString(pic.PNG))})
	}
	return p
}

var reportTemplate = template.Must(template.New("report").Parse(`
{{define "body" -}}
{{if .Reasons}}<ul>{{range .Reasons}}<li>{{.}}</li>{{end}}</ul>{{end -}}
{{if .Reading}}{{.Answers}}{{end -}}
{{range .Pictures}}<figure><img src="{{.URL}}" alt="{{.Alt}}"{{if .Width}} width="{{.Width}}"{{end}}></figure>
{{end -}}
{{if .Reading}}<h2>Where the doubt comes from</h2>
{{.Budget}}
<p>Standard uncertainty of each cause, and its share in the square of the whole. {{.Advice}}</p>{{end}}
{{if .Others}}<h2>Other readings of the same sound</h2>
<ul>{{range .Others}}<li>{{.}}</li>{{end}}</ul>{{end}}
{{if .Warnings}}<h2>Warnings</h2>
<ul>{{range .Warnings}}<li>{{.}}</li>{{end}}</ul>{{end}}
{{if .Cautions}}<section class="cautions"><h2>Cautions</h2>
<ul>{{range .Cautions}}<li><b>{{.Hazard}}</b>: {{.Text}} <small>{{.Source}}</small></li>{{end}}</ul>
<p>{{.Note}}</p></section>{{end}}
<h2>What was measured</h2>
{{.Facts}}
{{- end}}
{{define "fragment"}}<div class="rotorhum"><p><b>{{.Headline}}</b></p>
{{template "body" .}}</div>{{end}}
{{define "page"}}<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="generator" content="rotorhum">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; img-src data:; style-src 'unsafe-inline'">
<title>Speed from sound: {{.Title}}</title>
<style>` + pageStyle + `</style>
</head>
<body>
<main>
<h1>{{.Headline}}</h1>
{{template "body" .}}
</main>
</body>
</html>
{{end}}`))

// pageStyle is the look of the page: one column, read top down, on paper too.
const pageStyle = `
:root { --ink: #1c252e; --slate: #586470; --rule: #e1e6ea; --tide: #0b5a78; --buoy: #d04812; }
body { margin: 0; color: var(--ink); background: #fff; font: 16px/1.5 "Liberation Sans", Arial, sans-serif; }
main { max-width: 50rem; margin: 0 auto; padding: 2rem 1.25rem 4rem; }
h1 { font-size: 1.6rem; line-height: 1.25; border-left: .4rem solid var(--tide); padding-left: .8rem; overflow-wrap: anywhere; }
h2 { font-size: 1.1rem; margin-top: 2.2rem; }
table { border-collapse: collapse; font-variant-numeric: tabular-nums; }
th, td { padding: .25rem 1.2rem .25rem 0; text-align: left; font-weight: normal; vertical-align: top; overflow-wrap: anywhere; }
thead th, tbody th { color: var(--slate); white-space: nowrap; }
tbody tr { border-top: 1px solid var(--rule); }
main > table:first-of-type td:nth-child(2) { font-weight: bold; }
figure { margin: 1.6rem 0; }
img { max-width: 100%; height: auto; }
.cautions { margin-top: 2.2rem; padding: .1rem 1.2rem; border: 2px solid var(--buoy); border-radius: .4rem; break-inside: avoid; }
.cautions h2 { margin-top: .8rem; }
.cautions ul { padding-left: 1.2rem; } .cautions li { margin: 0 0 .7rem 0; } small { color: var(--slate); }
@media print { main { max-width: none; padding: 0; } body { font-size: 11pt; } }
`
