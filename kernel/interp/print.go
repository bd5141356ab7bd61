package interp

import (
	"fmt"
	"io"
	"os"
	"strings"
)

// Cells print without the detour through a pipe: the functions of fmt that
// write to a standard stream are replaced by ones that hand their text to the
// capture. Where a cell has put another file in os.Stdout they write there.

func (in *Interp) adaptFmt() {
	in.adaptScan()
	const path = "fmt"
	in.replaceFunc(path, "Print", func(a ...any) (int, error) { return in.print(os.Stdout, fmt.Append(nil, a...)) })
	in.replaceFunc(path, "Println", func(a ...any) (int, error) { return in.print(os.Stdout, fmt.Appendln(nil, a...)) })
	in.replaceFunc(path, "Printf", func(f string, a ...any) (int, error) { return in.print(os.Stdout, fmt.Appendf(nil, f, a...)) })
	in.replaceFunc(path, "Fprint", func(w io.Writer, a ...any) (int, error) { return in.print(w, fmt.Append(nil, a...)) })
	in.replaceFunc(path, "Fprintln", func(w io.Writer, a ...any) (int, error) { return in.print(w, fmt.Appendln(nil, a...)) })
	in.replaceFunc(path, "Fprintf", func(w io.Writer, f string, a ...any) (int, error) {
		return in.print(w, fmt.Appendf(nil, f, a...))
	})
}

// Reading from standard input asks the person at the front end.
func (in *Interp) adaptScan() {
	const path = "fmt"
	in.replaceFunc(path, "Scanln", func(a ...any) (int, error) {
		text, err := in.ask("", false)
		if err != nil {
			return 0, err
		}
		return fmt.Sscanln(text, a...)
	})
	in.replaceFunc(path, "Scanf", func(f string, a ...any) (int, error) {
		text, err := in.ask("", false)
		if err != nil {
			return 0, err
		}
		return fmt.Sscanf(text, strings.TrimSuffix(f, "\n"), a...)
	})
	in.replaceFunc(path, "Scan", func(a ...any) (n int, err error) {
		for n < len(a) {
			text, err := in.ask("", false)
			if err != nil {
				return n, err
			}
			got, err := fmt.Sscan(text, a[n:]...)
			n += got
			if err != nil && err != io.ErrUnexpectedEOF && err != io.EOF {
				return n, err
			}
		}
		return n, nil
	})
}

func (in *Interp) print(w io.Writer, text []byte) (int, error) {
	in.variance.prints()
	switch w {
	case in.cap.out.w:
		in.cap.write(in.cap.out, text)
	case in.cap.err.w:
		in.cap.write(in.cap.err, text)
	default:
		return w.Write(text)
	}
	return len(text), nil
}
