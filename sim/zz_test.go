package sim
import ("testing";"time")
func TestZZ(t *testing.T){
	car:=demoCar(t)
	sets := [][]float64{demoRatios(), {9.4, 6.9, 5.4, 4.5, 3.9, 3.45}, {8.9, 6.2, 4.9, 4.05, 3.5, 3.1}}
	for _,n:=range []string{"harrowdale","quayside"}{
		tr:=embedded(t,n)
		var ms []*Model
		for r:=0;r<=4;r++ { m,err:=New(car,tr,stillAir(20),&Settings{Refine:r}); if err!=nil{t.Fatal(err)}; ms=append(ms,m)}
		for i,s:=range sets {
			ref:=ms[4].NewSolver().LapTime(s); ro:=ms[4].NewSolver().OutTime(s)
			t.Logf("%s %d %.7f out %.7f cells %d",n,i,ref,ro,len(ms[0].cells))
			for r:=0;r<4;r++ { k:=ms[r].NewSolver(); k.LapTime(s); t0:=time.Now(); for range 20 {k.LapTime(s)}; t.Logf("   %d  %+.2e  out %+.2e  %v",r,k.LapTime(s)-ref,k.OutTime(s)-ro,time.Since(t0)/20) }
		}
	}
}
