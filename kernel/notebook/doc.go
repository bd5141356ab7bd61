// Package notebook reads, cleans, runs and writes Jupyter notebooks (nbformat
// 4) and prints them as self-contained HTML pages. It speaks to no Jupyter: a
// notebook's cells run on any [cell.Runner], and what they show is stored as a
// front end's client library would store it.
//
// The way of a notebook through the package:
//
//	ReadFile -> Notebook -> Set (parameters) -> Run -> WriteFile
//	                     -> Clean -> WriteFile
//	                     -> compare and verify (packages of their own)
//	                     -> Page -> HTML
//
// Writing is canonical: format 4.5, an id for every cell, keys sorted, one
// space of indent, LF line ends, neighbouring pieces of one stream joined. The
// same notebook always has the same bytes, and writing what was read back
// changes nothing.
//
// Source: the nbformat 4.5 description and JSON schema, nbformat.readthedocs.io.
package notebook
