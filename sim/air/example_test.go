package air_test

import (
	"fmt"

	"layshaft/sim/air"
)

// A warm afternoon at a circuit 420 m above the sea, as a weather service
// reports it, for an engine whose torque was corrected to SAE J1349.
func Example() {
	temperature, sea, altitude, humidity := 301.15, 101600.0, 420.0, 0.45
	state, warnings, err := air.Resolve(air.Given{
		Temperature: &temperature, SeaLevelPressure: &sea, Altitude: &altitude, Humidity: &humidity,
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	factor, _, err := air.SAEJ1349.Factor(state)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.1f hPa at the circuit, %.4f kg/m³\n", state.Pressure/100, state.Density())
	fmt.Printf("torque x %.4f (%s), %d warnings\n", factor, air.SAEJ1349, len(warnings))
	// Output:
	// 968.9 hPa at the circuit, 1.1138 kg/m³
	// torque x 0.9493 (SAE J1349), 0 warnings
}
