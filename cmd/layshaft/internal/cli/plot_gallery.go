package cli

import (
	"bytes"
	"errors"
	"fmt"
	"html"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"layshaft/cmd/layshaft/internal/chart"

	"github.com/spf13/cobra"
)

// galleryIndex is the page to look through a gallery.
const galleryIndex = "index.html"

// picture is one file of a gallery.
type picture struct {
	name, title string
	data        []byte
}

// runGallery draws everything first and writes afterwards: what cannot be drawn
// leaves no file.
func (a *app) runGallery(c *cobra.Command, o *plotOptions) error {
	if err := o.check(c); err != nil {
		return err
	}
	form := chart.Format(o.picture.value)
	if form == "" {
		form = chart.PNG
	}
	if o.path == "" {
		o.path = "plots-" + safeName(strings.TrimSuffix(baseName(o.trackRef), fileExt))
	}
	if o.path == toStdout {
		return badInput("--all writes a folder: name one with --output")
	}
	made, err := o.galleryFolder()
	if err != nil {
		return err
	}
	files, left, err := o.gallery(c, form)
	if err == nil {
		err = o.clash(files)
	}
	if err != nil {
		if made { // nothing was written into it
			_ = os.Remove(o.path)
		}
		return err
	}
	a.warn(&o.show, append(o.files.warnings, left...)...)
	for i := range files {
		path := filepath.Join(o.path, files[i].name)
		if err := replaceFile(path, files[i].data, o.force); err != nil {
			return fmt.Errorf("cannot write %s: %w: %s", path, plainOS(err), written(files[:i]))
		}
	}
	_, err = fmt.Fprintf(c.OutOrStdout(), "saved %d pictures and %s in %s\n", len(files)-1, galleryIndex, o.path)
	return err
}

// written says what a gallery that broke off has left.
func written(files []picture) string {
	if len(files) == 0 {
		return "nothing was saved"
	}
	names := make([]string, len(files))
	for i := range files {
		names[i] = files[i].name
	}
	return "saved so far: " + strings.Join(names, ", ")
}

// galleryFolder makes the folder, and says whether it did, so that no work is lost
// on one that cannot be.
func (o *plotOptions) galleryFolder() (made bool, err error) {
	info, err := os.Stat(o.path)
	switch {
	case err == nil && !info.IsDir():
		return false, badInput("--output %s: is a file: --all wants a folder", o.path)
	case err == nil:
		return false, nil
	case !errors.Is(err, fs.ErrNotExist):
		return false, badInput("--output %s: %s", o.path, plainOS(err))
	}
	if err := os.Mkdir(o.path, 0o777); err != nil {
		return false, badInput("--output %s: cannot make the folder: %s", o.path, plainOS(err))
	}
	return true, nil
}

// clash refuses to replace files without --force.
func (o *plotOptions) clash(files []picture) error {
	if o.force {
		return nil
	}
	for i := range files {
		if _, err := os.Lstat(filepath.Join(o.path, files[i].name)); err == nil {
			return badInput("--output %s: %s exists there: choose another folder, or add --force to replace it", o.path, files[i].name)
		}
	}
	return nil
}

// gallery draws all pictures and the page. A picture that this lap cannot have is
// left out and named.
func (o *plotOptions) gallery(c *cobra.Command, form chart.Format) (files []picture, left []string, err error) {
	d, err := o.drive(c.Context())
	if err != nil {
		return nil, nil, err
	}
	add := func(kind string, figure chart.Figure, why error) error {
		if why != nil {
			var known *exitError
			if errors.As(why, &known) {
				return why
			}
			left = append(left, fmt.Sprintf("no picture %s: %s", kind, why))
			return nil
		}
		var data bytes.Buffer
		if err := chart.Write(&data, figure, form); err != nil {
			return err
		}
		files = append(files, picture{kind + "." + string(form), chart.TitleOf(figure), data.Bytes()})
		return nil
	}
	for _, kind := range plotKinds() {
		if c.Context().Err() != nil {
			return nil, nil, interrupted()
		}
		if kind == plotChoice {
			for g := 1; g <= len(d.base.set.Pairs); g++ {
				f, why := o.lapChoice(c.Context(), d, g)
				if err := add(fmt.Sprintf("%s-%d", kind, g), f, why); err != nil {
					return nil, nil, err
				}
			}
			continue
		}
		f, why := o.figure(c.Context(), d, kind)
		if err := add(kind, f, why); err != nil {
			return nil, nil, err
		}
	}
	return append(files, picture{name: galleryIndex, data: indexPage(chart.Clean(d.title(o)), files, form)}), left, nil
}

// title is car and track.
func (d *driven) title(o *plotOptions) string {
	return titleOr(o.track.Title, o.track.Name) + ", " + titleOr(o.car.Title, o.car.Name)
}

// indexPage shows the pictures one below the other; PDF files as links, which
// browsers do not show inside a page.
func indexPage(title string, files []picture, form chart.Format) []byte {
	var b bytes.Buffer
	t := html.EscapeString(title)
	fmt.Fprintf(&b, "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<title>%s</title>\n"+
		"<style>body{font-family:'Liberation Sans',Arial,sans-serif;max-width:1100px;margin:2em auto;padding:0 1em}"+
		"img{width:100%%;border:1px solid #999;margin-bottom:2em}</style>\n</head>\n<body>\n<h1>%s</h1>\n", t, t)
	for i := range files {
		name, what := html.EscapeString(files[i].name), html.EscapeString(files[i].title)
		if form == chart.PDF {
			fmt.Fprintf(&b, "<p><a href=\"%s\">%s</a></p>\n", name, what)
			continue
		}
		fmt.Fprintf(&b, "<a href=\"%s\"><img src=\"%s\" alt=\"%s\"></a>\n", name, name, what)
	}
	b.WriteString("</body>\n</html>\n")
	return b.Bytes()
}
