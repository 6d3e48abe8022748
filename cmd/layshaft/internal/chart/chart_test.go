package chart

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"image"
	_ "image/png"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/vg"

	"layshaft/sim"
	"layshaft/tracks"
)

func render(t *testing.T, l Figure, f Format) []byte {
	t.Helper()
	var out bytes.Buffer
	require.NoError(t, Write(&out, l, f))
	// LAYSHAFT_PICTURES names a folder in which a person can look at what
	// the tests drew.
	if dir := os.Getenv("LAYSHAFT_PICTURES"); dir != "" {
		name := strings.ReplaceAll(t.Name(), "/", "_") + "." + string(f)
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), out.Bytes(), 0o644))
	}
	return out.Bytes()
}

func TestPictures(t *testing.T) {
	us := roadCourse()
	us.US = true
	for name, l := range map[string]*Lap{"road": roadCourse(), "oval": oval(), "us": us} {
		t.Run(name, func(t *testing.T) {
			png := render(t, l, PNG)
			img, kind, err := image.Decode(bytes.NewReader(png))
			require.NoError(t, err)
			assert.Equal(t, "png", kind)
			// 27 cm at 150 dots per inch of 25.4 mm is 1594 dots.
			assert.Equal(t, 1594, img.Bounds().Dx())
			assert.Greater(t, darkDots(img), 5000, "the picture is empty")
			assert.Equal(t, png, render(t, l, PNG), "same figure, same bytes")
		})
	}
}

func darkDots(img image.Image) int {
	n := 0
	for y := img.Bounds().Min.Y; y < img.Bounds().Max.Y; y++ {
		for x := img.Bounds().Min.X; x < img.Bounds().Max.X; x++ {
			if r, g, b, _ := img.At(x, y).RGBA(); r+g+b < 3*0x6000 {
				n++
			}
		}
	}
	return n
}

func TestSVGSaysEverything(t *testing.T) {
	l := roadCourse()
	l.Title = `Corner "A" <&> lap`
	svg := string(render(t, l, SVG))
	d := xml.NewDecoder(strings.NewReader(svg))
	for {
		_, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		require.NoError(t, err, "the SVG is well-formed XML")
	}
	assert.Contains(t, svg, `role="img"`)
	assert.Contains(t, svg, "<title>Corner &#34;A&#34; &lt;&amp;&gt; lap</title>")
	assert.Contains(t, svg, "Arial,Helvetica,sans-serif")
	assert.NotContains(t, svg, "font-family:Liberation Sans;")
	for _, c := range l.Track.Corners {
		assert.Contains(t, svg, strings.ReplaceAll(c.Name, "'", "&#39;"), "every corner is named")
	}
	for _, e := range collect(l.Lap.Shifts) {
		assert.Contains(t, svg, ">"+e.gears()+"<", "every shift is listed")
	}
	assert.Contains(t, svg, "speed, km/h")
	assert.Less(t, len(svg), 400_000)
}

// Every SVG is well-formed, follows the page's width, names its fonts and says what
// it shows; its text lies within the view box.
func TestSVGOfAllFigures(t *testing.T) {
	d := newDemo(t, "quayside")
	for kind, f := range d.figures(t, Frame{Title: "Title <1>", Caption: "caption & more"}) {
		t.Run(kind, func(t *testing.T) {
			svg := string(render(t, f, SVG))
			assert.Contains(t, svg, `<svg role="img" width="100%" viewBox="0 0 765.35 524.41"`)
			assert.Contains(t, svg, "<title>Title &lt;1&gt;</title>")
			assert.Contains(t, svg, "<desc>"+f.about()+" caption &amp; more</desc>")
			assert.NotContains(t, svg, "font-family:Liberation")
			assert.Less(t, len(svg), 300_000)
			texts := 0
			for dec := xml.NewDecoder(strings.NewReader(svg)); ; {
				token, err := dec.Token()
				if errors.Is(err, io.EOF) {
					break
				}
				require.NoError(t, err)
				start, ok := token.(xml.StartElement)
				if !ok || start.Name.Local != "text" {
					continue
				}
				texts++
				var x, y float64
				turned := false
				for _, a := range start.Attr {
					switch a.Name.Local {
					case "x":
						_, err = fmt.Sscan(a.Value, &x)
					case "y":
						_, err = fmt.Sscan(a.Value, &y)
					case "transform":
						turned = strings.Contains(a.Value, "rotate")
					}
					require.NoError(t, err)
				}
				if !turned { // y counts up: the library mirrors the whole drawing and each text
					assert.True(t, math.Abs(x) < 766 && math.Abs(y) < 766, "text at %g, %g", x, y)
				}
			}
			assert.Greater(t, texts, 10)
		})
	}
}

func TestRefusesNoLap(t *testing.T) {
	l := roadCourse()
	l.Lap.Samples[10].V = math.NaN()
	require.ErrorContains(t, Write(io.Discard, l, PNG), "no number near 20 m")
	l.Lap.Samples = nil
	require.ErrorContains(t, Write(io.Discard, l, SVG), "no trace")
	require.ErrorContains(t, Write(io.Discard, l, "bmp"), `unknown format "bmp"`)
}

// A corner over the start line is drawn at both ends.
func TestCornerOverTheLine(t *testing.T) {
	assert.Equal(t, [][2]float64{{950, 1000}, {0, 40}}, unwrapped(950, 40, 1000))
	assert.Equal(t, [][2]float64{{10, 40}}, unwrapped(10, 40, 1000))
	l := roadCourse()
	l.Track.Corners[len(l.Track.Corners)-1] = tracks.Corner{Name: "Seam", Start: 3980, End: 60}
	render(t, l, PNG)
}

func TestCollectNumbersRunsOfDownshifts(t *testing.T) {
	got := collect([]sim.Shift{
		{S: 100, From: 3, To: 4}, {S: 300, From: 4, To: 5},
		{S: 500, From: 5, To: 4}, {S: 530, From: 4, To: 3}, {S: 560, From: 3, To: 2},
		{S: 700, From: 2, To: 3},
		{S: 900, From: 3, To: 2}, {S: 1300, From: 2, To: 1}, // two corners
	})
	var gears []string
	for _, e := range got {
		gears = append(gears, e.gears())
	}
	assert.Equal(t, []string{"3-4", "4-5", "5-4-3-2", "2-3", "3-2", "2-1"}, gears)
}

func TestTicks(t *testing.T) {
	var labels []string
	for _, k := range (steps{major: 50, minor: 5}).Ticks(-50, 103) {
		if k.Label != "" {
			labels = append(labels, k.Label)
		}
	}
	assert.Equal(t, []string{"−50", "0", "50", "100"}, labels)
	assert.Equal(t, "12,345", grouped(12345))
	assert.Equal(t, "−1,000", grouped(-1000))
	assert.Empty(t, steps{major: math.NaN(), minor: 5}.Ticks(0, 1))
	assert.Equal(t, 500.0, roundStep(4012, 12))
	assert.Equal(t, 1.0, roundStep(math.NaN(), 12))
}

func TestThinKeepsPeaks(t *testing.T) {
	var points []vg.Point
	for i := range 10000 {
		points = append(points, vg.Point{X: vg.Length(i) * 0.01, Y: 1})
	}
	points[4321].Y, points[7000].Y = 99, -99
	got := thin(points)
	assert.Less(t, len(got), 600)
	assert.Contains(t, got, points[4321])
	assert.Contains(t, got, points[7000])
	assert.Equal(t, points[0], got[0])
	assert.Equal(t, points[9999], got[len(got)-1])
}

func TestSpreadKeepsOrderAndPitch(t *testing.T) {
	places := []vg.Length{10, 11, 12, 100, 199, 199.5}
	spread(places, 9, 4, 200)
	for i := 1; i < len(places); i++ {
		assert.GreaterOrEqual(t, float64(places[i]-places[i-1]), 9-1e-9)
	}
	assert.LessOrEqual(t, float64(places[5]), 200.0)
}
