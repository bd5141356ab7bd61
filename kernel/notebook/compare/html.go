package compare

import (
	"fmt"
	"strings"

	"rotorhum/kernel/pattern"
)

// dataAddress matches a picture or sound that stands inside of HTML.
var dataAddress = pattern.New(`data:([a-z]+/[a-z0-9.+-]+);base64,([A-Za-z0-9+/=]+)`)

// html compares two pieces of HTML: their text and tags line by line, and the
// pictures and sounds inside them by their content.
func (c *comparison) html(n int, what, stored, fresh string) bool {
	if stored == fresh {
		return false
	}
	a, inA := withoutMedia(stored)
	b, inB := withoutMedia(fresh)
	if c.addText(n, what+", HTML", c.compareText(a, b)) {
		return true
	}
	found := false
	for i := range min(len(inA), len(inB)) {
		mime, x, y := inA[i][1], inA[i][2], inB[i][2]
		if mime == "image/svg+xml" {
			p, errX := unbase64(x)
			q, errY := unbase64(y)
			if errX == nil && errY == nil {
				found = c.addText(n, what+", drawing in HTML", c.compareDrawing(string(p), string(q))) || found
				continue
			}
		}
		found = c.media(n, what+", HTML", mime, x, y) || found
	}
	return found
}

// withoutMedia puts a mark, which names its type, in the place of everything
// embedded, and returns that as well.
func withoutMedia(source string) (text string, media [][]string) {
	media = dataAddress.Regexp().FindAllStringSubmatch(source, -1)
	n := 0
	text = dataAddress.Regexp().ReplaceAllStringFunc(source, func(string) string {
		n++
		return fmt.Sprintf("data:%s;(content %d)", media[n-1][1], n)
	})
	return strings.ReplaceAll(text, "><", ">\n<"), media
}
