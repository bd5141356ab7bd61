package page

import (
	"encoding/base64"
	"io"
	"net/http"
	"net/url"
	"os"
	"path"
	"strings"
)

// maxPicture is the largest picture file that is put into a page.
const maxPicture = 16 << 20

// picturesOf returns the finder of a cell's pictures: those pasted into the
// cell, then those in the notebook's folder. folder may be nil.
func picturesOf(attachments map[string]any, folder *os.Root) func(string) (data, why string) {
	return func(address string) (data, why string) {
		name, err := url.PathUnescape(address)
		if err != nil {
			return "", "its address is not valid"
		}
		if name, ok := strings.CutPrefix(name, "attachment:"); ok {
			bundle, _ := attachments[name].(map[string]any)
			for _, mime := range pictureTypes {
				if content, ok := bundle[mime].(string); ok {
					return dataAddress(mime, content), ""
				}
			}
			return "", "the cell has no such attachment"
		}
		if strings.Contains(name, ":") || strings.HasPrefix(name, "//") {
			return "", "pictures from the network are not put into the page"
		}
		if folder == nil {
			return "", "it is not part of this page"
		}
		return pictureFile(folder, path.Clean(name))
	}
}

// pictureFile reads a picture from folder. An os.Root cannot be left, by no
// path and no symbolic link.
func pictureFile(folder *os.Root, name string) (data, why string) {
	info, err := folder.Stat(name)
	if err != nil {
		return "", "there is no such file in the notebook's folder"
	}
	if !info.Mode().IsRegular() { // opening a pipe would wait for ever
		return "", "it is not a picture file"
	}
	file, err := folder.Open(name)
	if err != nil {
		return "", "the file cannot be read"
	}
	defer file.Close()
	content, err := io.ReadAll(io.LimitReader(file, maxPicture+1))
	if err != nil || len(content) > maxPicture {
		return "", "the file cannot be read or is larger than 16 MB"
	}
	mime := http.DetectContentType(content)
	if strings.EqualFold(path.Ext(name), ".svg") {
		mime = "image/svg+xml"
	}
	for _, known := range pictureTypes {
		if mime == known {
			return "data:" + mime + ";base64," + base64.StdEncoding.EncodeToString(content), ""
		}
	}
	return "", "it is not a picture file"
}

// pictureTypes are the types of picture that a page shows, the best first.
var pictureTypes = []string{"image/svg+xml", "image/png", "image/jpeg", "image/webp", "image/gif"}

// dataAddress returns the data: address of content as a notebook stores it:
// SVG as text, everything else in base64.
func dataAddress(mime, content string) string {
	if mime == "image/svg+xml" {
		content = base64.StdEncoding.EncodeToString([]byte(content))
	}
	return "data:" + mime + ";base64," + strings.Join(strings.Fields(content), "")
}
