// Package air turns what a weather station reports into what a lap needs:
// the density of moist air and the factor on an engine's torque.
//
// Assumptions. Air is the mixture of the CIPM with 400 ppm of carbon dioxide.
// Engine factors apply to naturally aspirated engines at full throttle; a
// pressure-charged engine that is held to its boost takes factor 1, which is
// the caller's decision.
//
// Left out: fog and rain in the air, pressure differences round a circuit,
// charge-air cooling, intake ram pressure, correction of compression-ignition
// engines.
//
// Conventions. SI: kelvin, pascal, metre, kg/m³; relative humidity 0 to 1.
// "Station pressure" is what a barometer at the circuit reads, absolute and
// not reduced to sea level. "Dry pressure" is station pressure less the
// vapour's share.
//
// The pipeline:
//
//	Given (what the user knows)
//	  -> Resolve      checks, fills in from ISO 2533, warns of contradictions
//	  -> State        temperature, station pressure, humidity at the circuit
//	  -> Density      CIPM-2007
//	  -> Correction.Factor   the engine's torque in this air / torque as stated
package air
