package cars

import (
	"fmt"
	"strings"

	"layshaft/cars/gearbox"
)

// TorquePlace says where a torque curve was measured.
type TorquePlace int

const (
	AtCrank  TorquePlace = iota + 1 // at the crankshaft: gear losses still to come off
	AtWheels                        // at the wheels, referred to the crank: losses already inside
)

// EngineMap is one torque curve with the limits that go with it.
type EngineMap struct {
	Name       string
	RPM        []float64 // 1/min, strictly increasing, at least 3
	Torque     []float64 // N·m at full throttle, same length
	LimiterRPM float64   // 1/min, engine speed that is held at the limiter; inside the table
}

// Engine is the power unit. Where the torque was measured at the wheels the
// losses are inside it, and the car's Efficiency is 1 and BoxDrag 0; where it
// was measured in a sweep the engine's inertia is inside it, and Inertia is 0.
type Engine struct {
	Maps           []EngineMap // at least one; the first is the default
	Place          TorquePlace
	Sweep          bool    // measured while accelerating: the engine's inertia is inside the curve
	Inertia        float64 // kg·m², all that turns with the crankshaft
	Boosted        bool    // pressure-charged and held to its boost: no air correction
	ReferencePower string  // standard to which the curve was corrected, as stated by the file
	ShiftMarginRPM float64 // 1/min below the limiter at which a shift comes at the latest
	PullingRPM     float64 // 1/min, least engine speed at throttle-on
	OverRevRPM     float64 // 1/min, highest engine speed after a downshift; default the limiter

	// LaunchRPM is the engine speed that a slipping clutch holds in a standing
	// start until the speeds meet. Inside the torque table and at or below the
	// limiter of every map; default the first speed of the table (of the map
	// whose table begins last).
	LaunchRPM float64 // 1/min
	// FuelConsumption is fuel burnt per work at the crank at full throttle, or
	// per the work that the torque table states where it was measured at the
	// wheels; 0 = unknown.
	FuelConsumption float64 // kg/J
}

// Aero is the air's hold on the car.
type Aero struct {
	DragArea      float64 // m², Cd·A
	DownforceArea float64 // m², Cl·A, positive presses down
	FrontShare    float64 // 0..1, share of downforce on the front axle as measured
}

// Tyre is one axle's pair of tyres.
type Tyre struct {
	MuX, MuY        float64 // grip coefficients at the reference load
	RefLoad         float64 // N per tyre at which MuX and MuY hold
	LoadSensitivity float64 // relative loss of mu when the load doubles from RefLoad, >= 0
	Stiffness       float64 // 1/rad, cornering stiffness per unit load
}

// Car is a point mass with what it needs to know of its axles. Immutable
// after Parse.
type Car struct {
	Name, Title   string
	Mass          float64 // kg with driver, without fuel
	Fuel          float64 // kg, default load
	FrontShare    float64 // 0..1 of static weight on the front axle
	Wheelbase     float64 // m
	CGHeight      float64 // m
	RearDriven    bool    // else front driven
	Front, Rear   Tyre
	RollingCoef   float64 // rolling resistance / load at rest
	RollingCoefV  float64 // s/m, its growth with speed
	RollingCoefVV float64 // s²/m², its growth with speed squared
	TyreRadius    float64 // m, loaded rolling radius of the driven wheels at low speed
	TyreGrowth    float64 // m per (m/s)², growth of the rolling radius with speed²
	RadiusSource  string  // who measured the radius, and how
	DriveSlip     float64 // ratio by which the driven wheels turn faster than they roll
	WheelInertia  float64 // kg·m², all four wheels and what turns with them

	Engine     Engine
	Aero       Aero
	Efficiency []float64 // mesh efficiency by gear, index 0 = first; len = box gears
	BoxDrag    float64   // N·m drag torque of the box at its input shaft

	ShiftInertiaReturn float64 // 0..1 of the engine's spin energy returned at upshifts

	BoxRef   string // name or file of the gearbox
	Box      *gearbox.Box
	Warnings []string
}

// Attach gives the car its gearbox and spreads a single mesh efficiency over
// the gears. It fails when the box is nil or the number of efficiencies is
// neither one nor the number of gears. Call it once, before the car is shared.
func (c *Car) Attach(box *gearbox.Box) error {
	if box == nil {
		return fmt.Errorf("car %s: no gearbox to attach; the car file asks for %q", c.Name, c.BoxRef)
	}
	switch len(c.Efficiency) {
	case box.Gears:
	case 1:
		all := make([]float64, box.Gears)
		for i := range all {
			all[i] = c.Efficiency[0]
		}
		c.Efficiency = all
	default:
		return fmt.Errorf("car %s: driveline.gear_efficiency_ratio has %d values, but gearbox %s has %d gears; give one value for all gears or one for each",
			c.Name, len(c.Efficiency), box.Name, box.Gears)
	}
	c.Box = box
	return nil
}

// Map returns the engine map with the name, the first one for "". The error
// lists the maps that there are.
func (e *Engine) Map(name string) (*EngineMap, error) {
	var names []string
	for i := range e.Maps {
		if name == "" || e.Maps[i].Name == name {
			return &e.Maps[i], nil
		}
		names = append(names, fmt.Sprintf("%q", e.Maps[i].Name))
	}
	return nil, fmt.Errorf("no engine map %q; this car has %s", name, strings.Join(names, ", "))
}
