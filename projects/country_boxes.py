"""Where a country lies, roughly: boxes of longitude and latitude, from memory, checked against its time-zone cities.

Only to notice a boundary at sea or in another country. A box is wider than its country, so a boundary just off
the coast goes unnoticed, and a country without a box is not checked at all.
"""

from functools import cache

from projects.calc.geometry import distance_m

# code west south east north, in degrees; a code with parts far apart has several boxes.
BOXES = """
AD 1 42 2 43|AE 51 22 57 27|AF 60 29 75 39|AG -63 16 -61 18|AI -64 18 -62 19|AL 19 39 22 43|AM 43 38 47 42
AO 11 -19 25 -4|AR -74 -56 -53 -21|AS -172 -15 -168 -10|AT 9 46 18 50|AU 112 -45 155 -9
AU 158 -32 160 -31|AU 158 -55 159 -54
AW -71 12 -69 13|AX 19 59 22 61|AZ 44 38 52 42|BA 15 42 20 46|BB -60 13 -59 14|BD 88 20 93 27|BE 2 49 7 52|BF -6 9 3 16
BG 22 41 29 45|BH 50 25 51 27|BI 28 -5 31 -2|BJ 0 6 4 13|BL -63 17 -62 18|BM -65 32 -64 33|BN 114 4 116 6
BO -70 -23 -57 -9|BQ -69 12 -68 13|BQ -64 17 -62 18|BR -75 -34 -28 6|BS -81 20 -72 28|BT 88 26 93 29
BW 19 -27 30 -17|BY 23 51 33 57|BZ -90 15 -87 19|CA -142 41 -52 84|CD 12 -14 32 6|CF 14 2 28 12|CG 11 -6 19 4
CH 5 45 11 48|CI -9 4 -2 11|CK -166 -23 -157 -8|CL -76 -57 -66 -17|CL -110 -28 -105 -26|CM 8 1 17 14
CN 73 17 136 54|CO -82 -5 -66 14|CR -88 5 -82 12|CU -85 19 -74 24|CV -26 14 -22 18|CW -70 11 -68 13|CY 32 34 35 36
CZ 12 48 19 52|DE 5 47 16 56|DJ 41 10 44 13|DK 8 54 16 58|DM -62 15 -61 16|DO -72 17 -68 20|DZ -9 18 12 38
EC -82 -6 -75 2|EC -93 -2 -88 2|EE 21 57 29 60|EG 24 21 37 32|EH -18 20 -8 28|ER 36 12 44 18|ES -10 35 5 44
ES -19 27 -13 30|ET 32 3 48 15|FI 19 59 32 71|FJ 176 -22 180 -12|FJ -180 -22 -178 -12|FK -62 -53 -57 -50
FM 137 0 164 11|FO -8 61 -6 63|FR -6 41 10 52|GA 8 -5 15 3|GB -9 49 2 61|GD -62 11 -61 13|GE 39 41 47 44
GF -55 2 -51 6|GG -3 49 -2 50|GH -4 4 2 12|GI -6 36 -5 37|GL -74 59 -11 84|GM -17 13 -13 14|GN -16 7 -7 13
GP -62 15 -60 17|GQ 5 -2 12 4|GR 19 34 30 42|GS -39 -60 -26 -53|GT -93 13 -88 18|GU 144 13 145 14|GW -17 10 -13 13
GY -62 1 -56 9|HK 113 22 115 23|HN -90 12 -82 18|HR 13 42 20 47|HT -75 17 -71 21|HU 16 45 23 49|ID 94 -12 142 7
IE -11 51 -5 56|IL 34 29 36 34|IM -5 54 -4 55|IN 68 6 98 36|IO 71 -8 73 -5|IQ 38 29 49 38|IR 44 25 64 40
IS -25 63 -13 67|IT 6 35 19 48|JE -3 49 -1 50|JM -79 17 -76 19|JO 34 29 40 34|JP 122 20 154 46|KE 33 -5 42 6
KG 69 39 81 44|KH 102 9 108 15|KI 169 -12 177 4|KI -175 -12 -150 5|KM 43 -13 45 -11|KN -63 17 -62 18
KP 124 37 131 44|KR 124 33 132 39|KW 46 28 49 31|KY -82 19 -79 20|KZ 46 40 88 56|LA 100 13 108 23|LB 35 33 37 35
LC -62 13 -60 15|LI 9 47 10 48|LK 79 5 82 10|LR -12 4 -7 9|LS 27 -31 30 -28|LT 20 53 27 57|LU 5 49 7 51
LV 20 55 29 59|LY 9 19 26 34|MA -18 20 0 36|MC 7 43 8 44|MD 26 45 31 49|ME 18 41 21 44|MF -64 18 -62 19
MG 43 -26 51 -11|MH 160 4 173 15|MK 20 40 24 43|ML -13 10 5 26|MM 92 9 102 29|MN 87 41 120 53|MO 113 22 114 23
MP 144 14 147 21|MQ -62 14 -60 15|MR -18 14 -4 28|MS -63 16 -62 17|MT 14 35 15 37|MU 56 -21 64 -10|MV 72 -1 74 8
MW 32 -18 36 -9|MX -119 14 -86 33|MY 99 0 120 8|MZ 30 -27 41 -10|NA 11 -29 26 -16|NC 158 -24 173 -17|NE 0 11 16 24
NF 167 -30 169 -28|NG 2 4 15 14|NI -88 10 -82 16|NL 3 50 8 54|NO 4 57 32 72|NP 80 26 89 31|NR 166 -1 167 0
NU -170 -20 -169 -18|NZ 165 -53 180 -29|NZ -180 -45 -175 -29|OM 51 16 60 27|PA -84 7 -77 10|PE -82 -19 -68 1
PF -155 -28 -134 -7|PG 140 -12 160 0|PH 116 4 127 22|PK 60 23 78 38|PL 14 48 25 55|PM -57 46 -56 48
PN -131 -26 -124 -23|PR -68 17 -65 19|PS 34 31 36 33|PT -10 36 -6 43|PT -32 29 -12 40|PW 131 2 135 9
PY -63 -28 -54 -19|QA 50 24 52 27|RE 55 -22 56 -20|RO 20 43 30 49|RS 18 42 24 47|RU 19 41 180 82|RU -180 61 -168 72
RW 28 -3 31 -1|SA 34 16 56 33|SB 155 -13 171 -4|SC 46 -11 57 -3|SD 21 8 39 23|SE 10 55 25 70|SG 103 1 105 2
SH -15 -41 -5 -7|SI 13 45 17 47|SJ 10 74 34 81|SJ -10 70 -7 72|SK 16 47 23 50|SL -14 6 -10 10|SM 12 43 13 45
SN -18 12 -11 17|SO 40 -2 52 12|SR -59 1 -53 7|SS 23 3 36 13|ST 6 -1 8 2|SV -91 13 -87 15|SX -64 17 -62 19
SY 35 32 43 38|SZ 30 -28 33 -25|TC -73 20 -70 22|TD 13 7 24 24|TG -1 6 2 12|TH 97 5 106 21|TJ 67 36 76 42
TK -173 -10 -171 -8|TL 124 -10 128 -8|TM 52 35 67 43|TN 7 30 12 38|TO -177 -23 -173 -15|TR 25 35 45 43
TT -62 10 -60 12|TV 176 -11 180 -5|TW 118 21 123 27|TZ 29 -12 41 0|UA 22 44 41 53|UG 29 -2 36 5|US -125 24 -66 50
US -180 51 -129 72|US 172 51 180 54|US -179 18 -154 29|UY -59 -36 -53 -30|UZ 55 37 74 46|VA 12 41 13 42
VC -62 12 -60 14|VE -74 0 -59 13|VG -65 18 -64 19|VI -66 17 -64 19|VN 102 8 110 24|VU 166 -21 171 -13
WF -179 -15 -175 -13|WS -173 -15 -171 -13|YE 41 12 55 19|YT 45 -14 46 -12|ZA 16 -48 38 -22|ZM 21 -19 34 -8
ZW 25 -23 34 -15
"""


@cache
def boxes_of(code: str) -> tuple[tuple[float, float, float, float], ...]:
    """West, south, east and north of each box of a country; empty where none is known."""
    rows = (row.split() for line in BOXES.split("\n") for row in line.split("|") if row)
    return tuple((float(w), float(s), float(e), float(n)) for found, w, s, e, n in rows if found == code)


def outside_m(code: str, longitude: float, latitude: float) -> float:
    """How far a point lies outside its country's boxes; 0 inside, and where no box is known. [m]"""
    found = [
        distance_m((longitude, latitude), (min(max(longitude, w), e), min(max(latitude, s), n)))
        for w, s, e, n in boxes_of(code)
    ]
    return min(found, default=0.0)
