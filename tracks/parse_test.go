package tracks

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"layshaft/internal/numtest"
)

// What stands before the segments arrives in SI, under its own name.
func TestHead(t *testing.T) {
	tr := parse(t, square())
	assert.Equal(t, "my", tr.Name)
	assert.Equal(t, "Test", tr.Title)
	numtest.Equal(t, "heading", math.Pi/6, tr.Heading, 1e-15, 0)
	numtest.Equal(t, "altitude", 10, tr.Altitude, 0, 0)
	numtest.Equal(t, "pit limit", 80/3.6, tr.PitLimit, 1e-12, 0)
	numtest.Equal(t, "pit exit", 20, tr.PitExit, 0, 0)
}

// Grade and grip of a segment: grade is the angle whose tangent is the percent.
func TestGradeAndGrip(t *testing.T) {
	tr := parse(t, "close_height_m = 50\n"+edited(t, square(), "bank_deg = 6.0", "grade_percent = -20.0\ngrip_ratio = 0.8"))
	p := tr.At(tr.Corners[0].Start + 1)
	numtest.Equal(t, "grade", -0.2, math.Tan(p.Grade), 1e-15, 0)
	numtest.Equal(t, "grip", 0.8, p.Grip, 0, 0)
	numtest.Equal(t, "grip elsewhere", 1, tr.At(10).Grip, 0, 0)
	c := tr.Corners[0]
	numtest.Equal(t, "climb", -0.2*(c.End-c.Start), tr.Climb, 1e-9, 0)
}
