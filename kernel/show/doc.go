// Package show turns a value into a bundle of representations that a notebook
// can show. It is pure: the same value gives the same bundle, and nothing is
// printed or sent.
//
// Every bundle has "text/plain". A value adds richer ones by its methods:
//
//	HTML() string              text/html
//	Markdown() string          text/markdown
//	Latex() string             text/latex
//	SVG() string or []byte     image/svg+xml
//	PNG() []byte               image/png
//	JPEG() []byte              image/jpeg
//	PDF() []byte               application/pdf
//	JavaScript() string        application/javascript
//	JSON() map[string]any      application/json
//	Render(), SimpleRender()   any of them at once, by MIME type
//
// Each may return an error as a second result, which fails the rendering.
// Images, plots and matrices need no method.
package show
