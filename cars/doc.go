// Package cars describes a car as the lap needs it: a point mass that knows
// its axles, its engine's torque, its tyres' grip and the air's hold on it.
//
// Purpose. One strict reader for car files, the torque curve between the
// user's points, and the grip of an axle under load.
//
// Assumptions. The two tyres of an axle share its load evenly. Grip falls
// linearly with load. The rolling radius grows with speed squared. Mesh
// efficiency is one number per gear. Shares of downforce are axle loads as
// measured, so they contain the pitching moment of the drag.
//
// Left out: tyre temperature and wear, camber, lateral load transfer, the
// differential, closed-throttle torque, boost building up. Torque measured in
// a sweep on rollers also contains some inertia of the wheels; only the
// engine's is taken as inside.
//
// Conventions. SI inside, with engine speed in 1/min where a name says RPM.
// Shares count the front axle. A torque measured at the wheels is referred to
// the crankshaft. "Reference load" and "load" of a tyre are of one tyre,
// loads of an axle are of both.
//
// The pipeline:
//
//	datafile.Read     name or path -> bytes, hash
//	Parse             strict TOML -> Car, all faults at once
//	(*Car).Attach     the gearbox, found by BoxRef
//	Engine.Map, EngineMap.Curve   torque at any engine speed
//	Tyre.Capacity, Car.Radius     what the lap asks at every step
package cars
