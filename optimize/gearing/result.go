package gearing

import (
	"math/big"

	"layshaft/cars/gearbox"
	"layshaft/optimize"
	"layshaft/sim"
)

// Limits are the engineer's rules for a set, beside what the box dictates.
type Limits struct {
	StepMin, StepMax float64                   // ratio step between neighbours; 0 = the box's own
	TopHeadroomRPM   float64                   // 1/min that top gear must keep below the limiter at the ideal lap's top speed; < 0 = no rule
	Keep             map[int]string            // gear -> pair id that must stay
	Finals           []*gearbox.Drive          // final drives to choose from
	Drops            []*gearbox.Drive          // drop pairs to choose from; empty = no drop pair
	Then             Task                      // second task
	Allowed          func(*gearbox.Pair) error // nil = Stock rules (life, inspection, count)
}

// Task is the second task, which decides gears that the lap never uses.
type Task string

const (
	OutLap Task = "out"
)

// Stage is one stage of the staged objective with its proof.
type Stage struct {
	Name   string  // "lap" or "out lap"
	Value  float64 // s, the least of the stage; the set chosen in the end may lap slower by the tie width
	Gap    float64 // s: no buildable set is better by more than this
	Proved bool
}

// Answer is what a search returns.
type Answer struct {
	Set         *gearbox.Set // nil when nothing is feasible
	Lap         *sim.Lap
	OutLap      *sim.Lap
	Ideal       *sim.Ideal // the ideal car of all pairs that stand in some set, and of Set
	Status      optimize.Status
	Gap         float64  // s
	SetsInSpace *big.Int // exact number of sets that pass all constraints
	Stages      []Stage
	Ties        []Tie        // how sets within the gap were told apart, in the order of the rules
	Near        []Near       // sets within the gap, the chosen one among them, best first; the first nearShown
	NearCount   int          // how many there are; 0 when they were too many to be counted
	NearStages  int          // by how many of the stages these are within the gap
	FineLapTime float64      // s, the chosen set's lap on a mesh four times as fine
	Open        Open         // why the proof is open; "" when it is not
	Infeasible  string       // which limits stop it, when Set is nil
	Clash       []Limit      // those limits; empty when none of them but the stock itself stops it
	Relaxation  string       // the smallest changes that would help, when known
	Relaxations []Relaxation // the same, each tried by the program; any one of them will do
	IdealTop    float64      // m/s, the ideal car's top speed, of which headroom is asked (11.1); 0 without that rule
	Warnings    []string
	Stats       Stats
}

// Near is another set close to the best.
type Near struct {
	Set     *gearbox.Set
	LapTime float64 // s
	OutTime float64 // s

	FineLapTime float64 // s, lap on a mesh four times as fine
}

// Stats depend on the number of workers; never part of the answer.
type Stats struct {
	Nodes, Laps int64
	Seconds     float64
}

// Alternate is the best set in which one gear carries another pair.
type Alternate struct {
	Gear    int
	Pair    *gearbox.Pair
	LapTime float64 // s
	Loss    float64 // s against the chosen set, >= 0 or < 0 when other conditions favour it
}
