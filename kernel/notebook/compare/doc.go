// Package compare says whether what a notebook showed when it ran once is what
// it showed when it ran again, and where it is not. It is pure: two notebooks
// in, a list of differences out.
//
// The rule for each kind of output:
//
//	printed text     line by line, exactly; with a stated tolerance, numbers
//	                 within it and runs of blanks as one
//	text/...         like printed text; pictures and sounds inside HTML as below
//	PNG, JPEG, WebP  the decoded pixels, whatever the compression
//	SVG              elements, attributes and text, whatever their layout
//	JSON             values, whatever the order of keys; numbers exactly or
//	                 within the stated tolerance
//	all other types  bytes
//	errors           kind, message and traceback, like printed text
//
// Execution counts are not compared, nor the pieces in which a stream arrived.
//
// # What a cell may state
//
// In its tags, or in its metadata under "rotorhum":
//
//	tag                      metadata under "rotorhum"         meaning
//	tolerance=0.5%           "tolerance": "0.5%"               numbers may differ by 0.5 % of the stored one
//	tolerance=0.02           "tolerance": 0.02                 numbers may differ by 0.02
//	picture-tolerance=0.1%   "picture_tolerance": "0.1%"       that share of the pixels may differ
//	output-varies            "output_varies": true             the cell has to run; what it shows is not compared
//
// Of two tolerances for numbers, one relative and one absolute, a number has to
// keep one. A statement that cannot be understood is an error, not a licence.
package compare
