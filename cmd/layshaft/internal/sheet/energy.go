package sheet

import (
	"fmt"
	"math"

	"layshaft/sim"
)

// EnergyKj is where the energy of a lap came from and went, in kJ (section 14 of
// sim/MODEL.md). Sources and losses are positive as named; grade, kinetic and
// spin are what was gained over the lap. ReturnedAtUpshifts and Climb are parts
// of the others, for information.
type EnergyKj struct {
	Engine             float64 `json:"engine_kj"`
	SpunUp             float64 `json:"engine_spun_up_at_downshifts_kj"`
	BoxDrag            float64 `json:"box_drag_kj"`
	Mesh               float64 `json:"gear_meshes_kj"`
	Slip               float64 `json:"drive_slip_kj"`
	Clutch             float64 `json:"clutch_slip_kj"`
	Drag               float64 `json:"air_drag_kj"`
	Rolling            float64 `json:"rolling_kj"`
	Cornering          float64 `json:"cornering_kj"`
	Brakes             float64 `json:"brakes_kj"`
	ShiftLoss          float64 `json:"engine_spin_lost_at_upshifts_kj"`
	Grade              float64 `json:"grade_kj"`
	Kinetic            float64 `json:"kinetic_kj"`
	Spin               float64 `json:"spin_of_wheels_and_engine_kj"`
	Residual           float64 `json:"residual_kj"` // sources less all the rest
	ReturnedAtUpshifts float64 `json:"returned_at_upshifts_kj"`
	Climb              float64 `json:"climb_kj"`
}

// energyDecimals is how finely energy is told: JSON 0.001 kJ, text 0.1 kJ.
const (
	energyDecimals = 3
	energyText     = 1
)

func energyKj(e *sim.Energy) EnergyKj {
	kj := func(j float64) float64 { return roundTo(j/1000, energyDecimals) }
	return EnergyKj{
		Engine: kj(e.Engine), SpunUp: kj(e.Blips), BoxDrag: kj(e.BoxDrag), Mesh: kj(e.Mesh), Slip: kj(e.Slip),
		Clutch: kj(e.Clutch), Drag: kj(e.Drag), Rolling: kj(e.Rolling), Cornering: kj(e.Cornering), Brakes: kj(e.Brakes),
		ShiftLoss: kj(e.ShiftLoss), Grade: kj(e.Grade), Kinetic: kj(e.Kinetic), Spin: kj(e.Spin),
		Residual: kj(e.Residual()), ReturnedAtUpshifts: kj(e.Returned), Climb: kj(e.Climb),
	}
}

// energyLine is one line of the account as shown, sources positive (kJ).
type energyLine struct {
	name string
	kj   float64
}

// lines is the account in order: what is not a source is negative, and all add
// up to the residual.
func (e *EnergyKj) lines() []energyLine {
	return []energyLine{
		{"engine work at the crank", e.Engine},
		{"engine spun up at downshifts", e.SpunUp},
		{"box drag", -e.BoxDrag},
		{"gear meshes", -e.Mesh},
		{"drive slip", -e.Slip},
		{"clutch slip", -e.Clutch},
		{"air drag", -e.Drag},
		{"rolling", -e.Rolling},
		{"cornering", -e.Cornering},
		{"brakes", -e.Brakes},
		{"engine spin lost at upshifts", -e.ShiftLoss},
		{"grade", -e.Grade},
		{"kinetic energy gained", -e.Kinetic},
		{"spin gained, wheels and engine", -e.Spin},
	}
}

// checkEnergy tests that the account adds up as shown.
func (r *LapReport) checkEnergy(c *sums) {
	sum := 0.0
	lines := r.EnergyKj.lines()
	for _, l := range lines {
		if math.IsNaN(l.kj) || math.IsInf(l.kj, 0) {
			c.fault("energy: %s is %g kJ", l.name, l.kj)
		}
		sum += l.kj
	}
	// Each line, and the residual, is rounded to 0.001 kJ.
	if n := float64(len(lines) + 1); !(math.Abs(sum-r.EnergyKj.Residual) <= 0.0005*n+1e-9) {
		c.fault("the energy account adds up to %s kJ, its residual is %s kJ", fixed(sum, energyDecimals), fixed(r.EnergyKj.Residual, energyDecimals))
	}
}

// textEnergy lists the account with its shares of the engine's work.
func (r *LapReport) textEnergy(p *page) {
	e := &r.EnergyKj
	p.heading("ENERGY of the lap")
	if !(e.Engine > 0) {
		p.line("Not accounted for.")
		return
	}
	cols := []column{{head: "", flex: true}, {head: "kJ", right: true}, {head: "of engine work", right: true}}
	var rows [][]string
	for _, l := range e.lines() {
		rows = append(rows, []string{l.name, signed(l.kj, energyText), signed(100*l.kj/e.Engine, 2) + " %"})
	}
	p.table(cols, rows)
	p.blank()
	p.para(fmt.Sprintf("Sources +, the rest -, each integrated by itself; left over: %s kJ, %s of the engine's work. Torque measured at the wheels or in a sweep has losses and inertia inside it: their lines are nothing then.",
		fixed(e.Residual, energyDecimals), partsPerMillion(e.Residual/e.Engine)))
}

// partsPerMillion writes a share without its sign.
func partsPerMillion(share float64) string {
	return fixed(1e6*math.Abs(share), 1) + " parts in a million"
}
