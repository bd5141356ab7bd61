package show

import (
	"bytes"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"html"
	"image"
	"net/http"
	"os"
	"slices"
	"strings"

	"rotorhum/kernel/cell"
)

// HTML shows a piece of HTML. Its plain text is the source, or of a long one the
// size and the beginning.
func HTML(source string) cell.Bundle { return of(TextHTML, source, beginning("HTML", source)) }

// Markdown shows text with Markdown marks.
func Markdown(source string) cell.Bundle { return of(TextMD, source, source) }

// LaTeX shows mathematics: a LaTeX source, with its dollar signs.
func LaTeX(source string) cell.Bundle { return of(TextLatex, source, source) }

// SVG shows a drawing; text says in words what it shows.
func SVG(source, text string) cell.Bundle { return of(ImageSVG, source, text) }

// PNG shows a picture; text says in words what it shows. It returns an error
// if data is not a PNG file.
func PNG(data []byte, text string) (cell.Bundle, error) {
	cfg, format, err := image.DecodeConfig(bytes.NewReader(data))
	if err != nil || format != "png" {
		return cell.Bundle{}, fmt.Errorf("show: these %d bytes are not a PNG picture", len(data))
	}
	b := of(ImagePNG, data, text)
	b.Metadata[ImagePNG] = sizeOf(cfg.Width, cfg.Height)
	return b, nil
}

// JSON shows a value as a tree that the reader can fold. It returns an error
// if encoding/json cannot encode v.
func JSON(v any) (cell.Bundle, error) {
	data, err := json.MarshalIndent(v, "", "  ")
	if err != nil {
		return cell.Bundle{}, fmt.Errorf("show: %w", err)
	}
	var tree any
	if err := json.Unmarshal(data, &tree); err != nil {
		return cell.Bundle{}, fmt.Errorf("show: %w", err)
	}
	return of(AppJSON, tree, string(data)), nil
}

// Table shows rows of cells under a header: numbers to the right, columns of
// words to the left. Every row must have as many cells as the header, or the
// table is an error.
func Table(header []string, rows [][]string) (cell.Bundle, error) {
	width, side := make([]int, len(header)), make([]string, len(header))
	for i := range side {
		side[i] = ` style="text-align:right"`
		if slices.ContainsFunc(rows, func(row []string) bool { return i < len(row) && !isNumber(row[i]) }) {
			side[i] = ` style="text-align:left"`
		}
	}
	for _, row := range append([][]string{header}, rows...) {
		if len(row) != len(header) {
			return cell.Bundle{}, fmt.Errorf("show: a row of %d cells in a table of %d columns", len(row), len(header))
		}
		for i, c := range row {
			width[i] = max(width[i], len([]rune(c)))
		}
	}
	var h, t strings.Builder
	h.WriteString("<table><thead><tr>")
	for i, c := range header {
		h.WriteString("<th" + side[i] + ">" + html.EscapeString(c) + "</th>")
	}
	h.WriteString("</tr></thead><tbody>")
	line := func(row []string) {
		for i, c := range row {
			if i > 0 {
				t.WriteString("  ")
			}
			t.WriteString(c + strings.Repeat(" ", width[i]-len([]rune(c))))
		}
		t.WriteString("\n")
	}
	line(header)
	for _, row := range rows {
		h.WriteString("<tr>")
		for i, c := range row {
			h.WriteString("<td" + side[i] + ">" + html.EscapeString(c) + "</td>")
		}
		h.WriteString("</tr>")
		line(row)
	}
	h.WriteString("</tbody></table>")
	return of(TextHTML, h.String(), strings.TrimRight(t.String(), "\n")), nil
}

// isNumber reports whether a cell begins as a number does, or is empty.
func isNumber(cell string) bool {
	digits := strings.TrimLeft(cell, " +-−.")
	return digits == "" || digits[0] >= '0' && digits[0] <= '9'
}

// Audio shows a player for a WAV file; text says in words what is heard. It
// returns an error if data is not a WAV file.
func Audio(data []byte, text string) (cell.Bundle, error) {
	if len(data) < 12 || string(data[:4]) != "RIFF" || string(data[8:12]) != "WAVE" {
		return cell.Bundle{}, fmt.Errorf("show: these %d bytes are not a WAV recording", len(data))
	}
	return of(TextHTML, audioTag(data), text), nil
}

// audioTag is a player with the recording inside.
func audioTag(wav []byte) string {
	return `<audio controls src="data:audio/wav;base64,` + base64.StdEncoding.EncodeToString(wav) + `"></audio>`
}

// File shows a picture, sound or text file.
func File(path string) (cell.Bundle, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return cell.Bundle{}, err
	}
	switch kind := http.DetectContentType(data); {
	case kind == ImagePNG:
		return PNG(data, path)
	case kind == "audio/wave":
		return Audio(data, path)
	case strings.HasSuffix(path, ".svg"):
		return SVG(string(data), path), nil
	case strings.HasSuffix(path, ".md"):
		return Markdown(string(data)), nil
	case strings.HasPrefix(kind, "image/"):
		return of(kind, data, path), nil
	case strings.HasPrefix(kind, "text/"):
		return of(TextPlain, string(data), string(data)), nil
	default:
		return cell.Bundle{}, fmt.Errorf("show: %s is of kind %s, which a notebook cannot show", path, kind)
	}
}

func of(mime string, data any, text string) cell.Bundle {
	b := cell.Bundle{Data: map[string]any{mime: data}, Metadata: map[string]any{}}
	if mime != TextPlain {
		b.Data[TextPlain] = text
	}
	b, _ = checked(b)
	return b
}
