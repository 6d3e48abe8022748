"""The car: its files, tyres and forces (MODEL.md 3 to 9)."""
import bisect
import math
import os
import tomllib

G = 9.80665
NO_LIMIT = 150.0
RAD_PER_RPM = math.pi / 30.0


def load(*parts):
    with open(os.path.join(*parts), "rb") as f:
        return tomllib.load(f)


class Monotone:
    """Fritsch and Butland 1984; end slopes: three-point formula, limited."""

    def __init__(self, xs, ys):
        n = len(xs)
        h = [xs[i + 1] - xs[i] for i in range(n - 1)]
        s = [(ys[i + 1] - ys[i]) / h[i] for i in range(n - 1)]
        d = [0.0] * n
        for i in range(1, n - 1):
            if s[i - 1] * s[i] > 0:
                al = (h[i - 1] + 2 * h[i]) / (3 * (h[i - 1] + h[i]))
                d[i] = s[i - 1] * s[i] / (al * s[i] + (1 - al) * s[i - 1])

        def end(h0, h1, s0, s1):
            e = ((2 * h0 + h1) * s0 - h0 * s1) / (h0 + h1)
            if e * s0 <= 0:
                return 0.0
            if s0 * s1 <= 0 and abs(e) > 3 * abs(s0):
                return 3 * s0
            return e
        d[0] = end(h[0], h[1], s[0], s[1])
        d[-1] = end(h[-1], h[-2], s[-1], s[-2])
        self.xs, self.ys, self.h, self.s, self.d = xs, ys, h, s, d

    def __call__(self, x):
        xs = self.xs
        if x < xs[0] or x > xs[-1]:
            return 0.0
        i = min(bisect.bisect_right(xs, x) - 1, len(self.h) - 1)
        h, s, d0, d1 = self.h[i], self.s[i], self.d[i], self.d[i + 1]
        p = x - xs[i]
        c = (3 * s - 2 * d0 - d1) / h
        b = (d0 + d1 - 2 * s) / (h * h)
        return self.ys[i] + p * (d0 + p * (c + p * b))


class Axle:
    def __init__(self, d, grip):
        self.mx, self.my = d["grip_drive_coef"] * grip, d["grip_lateral_coef"] * grip
        self.n0, self.k = d["reference_load_n"], d["load_sensitivity_ratio"]
        self.c = d["cornering_stiffness_per_rad"]
        self.peak = 2 * self.n0 * (1 + self.k) / (2 * self.k)

    def form(self, n):  # the load part of the capacity (6.1)
        if n <= 0:
            return 0.0
        n = min(n, self.peak)
        return n * (1 + self.k - self.k * n / (2 * self.n0))

    def load_for(self, fa, grip):
        """The least load at which the axle holds fa sideways (6.1)."""
        q = fa / (self.my * grip)
        a, b = self.k / (2 * self.n0), 1 + self.k
        disc = b * b - 4 * a * q
        if disc < 0:
            return math.inf
        return 2 * q / (b + math.sqrt(disc))

    def x(self, n, fa, grip):  # (6.2)
        w = self.form(n) * grip
        cy = self.my * w
        if fa >= cy:
            return 0.0
        return self.mx * w * math.sqrt(1 - (fa / cy) ** 2)


class Car:
    def __init__(self, root, rho, fuel, grip, totals=None):
        c = load(root, "cars/examples/wren.toml")
        stock = load(root, "cars/gearbox/stocks/wren.toml")
        box = load(root, "cars/gearbox/boxes", c["driveline"]["gearbox"] + ".toml")
        assert c["car"]["driven"] == "rear"
        self.m = c["car"]["mass_kg"] + fuel
        self.lf = c["car"]["front_share_ratio"]
        self.lr = 1 - self.lf
        self.hl = c["car"]["cg_height_m"] / c["car"]["wheelbase_m"]
        e, mp = c["engine"], c["map"][0]
        self.je, self.limiter = e["inertia_kgm2"], mp["limiter_rpm"]
        self.pulling, self.over = e["pulling_rpm"], e["over_rev_rpm"]
        self.torque = Monotone(mp["speed_rpm"], mp["torque_nm"])
        self.table0 = mp["speed_rpm"][0]
        a = c["aero"]
        self.kd = 0.5 * rho * a["drag_area_m2"]
        self.kl = 0.5 * rho * a["downforce_area_m2"]
        self.af = a["front_share_ratio"]
        self.ar = 1 - self.af
        t = c["tyres"]
        self.r0, self.q = t["radius_m"], t["radius_growth_s2_per_m"]
        self.c0, self.c1, self.c2 = t["rolling_coef"], t["rolling_growth_s_per_m"], t["rolling_growth_s2_per_m2"]
        self.front, self.rear = Axle(t["front"], grip), Axle(t["rear"], grip)
        d = c["driveline"]
        self.eta, self.slip, self.jw = d["gear_efficiency_ratio"], d["drive_slip_ratio"], d["wheel_inertia_kgm2"]
        ups = box["upshift_ms"]
        n = box["gears_count"]
        self.tau = [(ups[0] if len(ups) == 1 else ups[i]) / 1000 for i in range(n - 1)]
        self.down = box["downshift_ms"] / 1000
        self.i = totals or self.fitted(stock)
        self.n = n
        self.vlim = [self.speed(g, self.limiter) for g in range(n)]
        self.vover = [self.speed(g, self.over) for g in range(n)]

    @staticmethod
    def fitted(stock):
        """Total ratios of the set that the stock file calls fitted."""
        final = [f for f in stock["final_drive"] if f.get("fitted")][0]
        pairs = {p["id"]: p for p in stock["pair"]}
        return [pairs[p]["mainshaft_teeth"] / pairs[p]["layshaft_teeth"] * final["driven_teeth"] / final["driving_teeth"]
                for p in stock["fitted"]]

    def radius(self, u):
        return self.r0 + self.q * u

    def rpm(self, g, v):  # (7.1)
        return v * self.i[g] * (1 + self.slip) / RAD_PER_RPM / self.radius(v * v)

    def speed(self, g, rpm):  # (7.2)
        c = self.i[g] * (1 + self.slip) / (rpm * RAD_PER_RPM)
        return 2 * self.r0 / (c + math.sqrt(c * c - 4 * self.q * self.r0))

    # Forces at a place p = (k, sin b, cos b, sin g, cos g, grip, kv, w): curvature,
    # bank, grade, grip factor, vertical curvature, wind from ahead.
    #
    # The line's centripetal acceleration is u k to the left, level, and u kv
    # upwards; the road's normal leans sin b to the left of upright. So the normal
    # takes u (k sin b + kv cos b) and the road plane u (k cos b - kv sin b).

    def loads(self, u, p):
        k, sb, cb, sg, cg, grip, kv, w = p
        load = self.m * (G * cg * cb + u * (k * sb + kv * cb))
        dn = self.kl * (math.sqrt(u) + w) ** 2
        side = self.m * (u * (k * cb - kv * sb) - G * cg * sb)
        return self.lf * load + self.af * dn, self.lr * load + self.ar * dn, abs(side)

    def resistance(self, u, p, nf, nr, fy):  # (5.3)
        v = math.sqrt(u)
        w = v + p[7]
        r = self.kd * w * abs(w) + (nf + nr) * (self.c0 + self.c1 * v + self.c2 * u) + self.m * G * p[3]
        if nf > 0:
            r += (self.lf * fy) ** 2 / (self.front.c * nf)
        if nr > 0:
            r += (self.lr * fy) ** 2 / (self.rear.c * nr)
        return r

    def holds(self, v, p):  # (6.7)
        u = v * v
        nf, nr, fy = self.loads(u, p)
        x = max(self.resistance(u, p, nf, nr, fy), 0.0)
        nf, nr = nf - x * self.hl, nr + x * self.hl
        if nf <= 0 or nr <= 0:
            return False
        w = self.rear.form(nr) * p[5]
        if math.hypot(x / (self.rear.mx * w), self.lr * fy / (self.rear.my * w)) >= 1:
            return False
        return self.lf * fy < self.front.my * self.front.form(nf) * p[5]

    def corner_limit(self, p):  # (6.8)
        lo = 0.0
        while True:
            hi = min(lo + 2.0, NO_LIMIT)
            if not self.holds(hi, p):
                break
            lo = hi
            if lo >= NO_LIMIT:
                return NO_LIMIT
        for _ in range(50):
            mid = 0.5 * (lo + hi)
            if self.holds(mid, p):
                lo = mid
            else:
                hi = mid
        return lo

    def brake(self, u, p):  # (6.6): the retardation
        nf, nr, fy = self.loads(u, p)
        r = self.resistance(u, p, nf, nr, fy)
        ff, fr, grip, hl = self.lf * fy, self.lr * fy, p[5], self.hl
        xmax = (nr - self.rear.load_for(fr, grip)) / hl
        if xmax <= 0:
            return r / self.m

        def gap(x):
            return self.front.x(nf + x * hl, ff, grip) + self.rear.x(nr - x * hl, fr, grip) - x
        if gap(xmax) >= 0:
            return (xmax + r) / self.m
        lo, hi = 0.0, xmax
        x = lo
        flo, fhi = gap(lo), gap(hi)
        side = 0
        for _ in range(60):
            x = (flo * hi - fhi * lo) / (flo - fhi)
            f = gap(x)
            if abs(f) < 1e-8 * self.m:
                break
            if f > 0:
                lo, flo = x, f
                if side == 1:
                    fhi *= 0.5
                side = 1
            else:
                hi, fhi = x, f
                if side == -1:
                    flo *= 0.5
                side = -1
        return (x + r) / self.m

    def drive_limit(self, need, nf, nr, fy, grip):
        """min(need, drive limit) (6.3)-(6.5)."""
        hl = self.hl
        cap = min((nf - self.front.load_for(self.lf * fy, grip)) / hl, nf / hl)
        if cap <= 0:
            return 0.0
        top = min(need, cap)
        fa = self.lr * fy

        def gap(x):
            return self.rear.x(nr + x * hl, fa, grip) - x
        if gap(top) >= 0:
            return top
        lo, hi = 0.0, top
        for _ in range(45):
            mid = 0.5 * (lo + hi)
            if gap(mid) >= 0:
                lo = mid
            else:
                hi = mid
        return 0.5 * (lo + hi)

    def accel(self, u, p, g):  # (7.3)-(7.7)
        v = math.sqrt(u)
        nf, nr, fy = self.loads(u, p)
        r = self.resistance(u, p, nf, nr, fy)
        rad = self.radius(u)
        rpm = self.rpm(g, v)
        j = self.je * self.i[g] ** 2 + self.jw
        if g == 0 and rpm < self.table0:
            rpm, j = self.table0, self.jw
        f = self.torque(rpm) * self.i[g] * self.eta[g] / rad
        a = (f - r) / (self.m + j * (1 - 2 * self.q * u / rad) / rad ** 2)
        x = r + self.m * a
        if x <= 0:
            return a
        y = self.drive_limit(x, nf, nr, fy, p[5])
        return a if y >= x else (y - r) / self.m

    def coast(self, u, p):  # (9.1)
        nf, nr, fy = self.loads(u, p)
        rad = self.radius(u)
        return -self.resistance(u, p, nf, nr, fy) / (self.m + self.jw * (1 - 2 * self.q * u / rad) / rad ** 2)
