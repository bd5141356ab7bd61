// Package figure draws what the tacho package measured: the waveform, the
// spectrum with its family of lines, the spectrogram with the track over it,
// and the speed against time with its interval; and, with [Plot], any curves,
// such as samples, windows, several spectra or readings with their intervals.
//
// Every constructor takes results and returns a [Picture] or an error; it
// computes nothing that the report does not also state in numbers. Data that
// are empty, NaN or infinite are refused. A Picture is drawn when it is asked
// for, always to the same bytes, as PNG or SVG, and says in its Alt text what
// it shows. No meaning rests on colour alone: what differs in colour differs
// in dash, marker or number as well.
//
// The pictures are 800 pixels wide unless [View] or [Axes] say otherwise, a
// width at which their text is as large as the text of a page.
package figure
