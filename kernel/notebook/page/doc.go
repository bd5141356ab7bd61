// Package page prints a notebook as one HTML file that needs nothing else: no
// network, no script, no other file. It reads well on a screen and on paper,
// and colour never carries meaning alone.
//
// A notebook may come from a stranger. What it brings is shown, not obeyed:
// HTML in cells and outputs is cut down to harmless elements, vector graphics
// stand in image elements where nothing in them can run, pictures are taken
// from the notebook's own folder only, and the page forbids itself scripts and
// network access by a content security policy.
package page
