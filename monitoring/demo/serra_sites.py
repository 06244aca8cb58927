"""Serra Clara Commons: three invented sites with invented climate normals."""

from monitoring.demo.shapes import SitePlan

MOUNTAIN, STREAM, HILLSIDE = "Vale do Sabugal Velho", "Ribeira da Moita", "Outeiro Seco de Baixo"

SITES = (
    SitePlan(
        name=MOUNTAIN, country_code="PT", region="Inland north, invented", time_zone="Europe/Lisbon",
        latitude=40.402, longitude=-7.118,
        outline_m=((0, 0), (480, -25), (930, 20), (960, 380), (900, 730), (430, 760), (-20, 700), (-35, 340)),
        elevation_m=1050,
        description="Cool mountain slope with former rye terraces. Frost until the middle of May in the hollows.",
        access_notes="Park at the chapel; the track above it is for four-wheel drive only.",
        emergency_contact="Demo only, no real number: valley post, channel 4",
        rain_mm=(148, 131, 96, 88, 74, 34, 14, 17, 52, 119, 141, 156),
        minimum_c=(-1.2, -0.6, 1.1, 2.4, 5.3, 9.0, 11.6, 11.4, 9.0, 5.6, 1.9, -0.3),
        maximum_c=(6.8, 8.1, 11.0, 12.7, 17.0, 22.6, 26.6, 26.5, 21.7, 15.4, 10.0, 7.3),
    ),
    SitePlan(
        name=STREAM, country_code="PT", region="Inland north, invented", time_zone="Europe/Lisbon",
        latitude=40.268, longitude=-7.231,
        outline_m=((0, 0), (650, -30), (1290, 15), (1310, 300), (640, 330), (-15, 295)),
        elevation_m=460,
        description="Strip on both banks of a stream that floods in most winters.",
        access_notes="Do not cross when the stepping stones are under water.",
        emergency_contact="Demo only, no real number: village post, channel 2",
        rain_mm=(112, 98, 74, 70, 60, 27, 9, 12, 42, 95, 108, 120),
        minimum_c=(2.3, 3.0, 4.9, 6.6, 9.6, 13.4, 15.7, 15.5, 13.3, 9.8, 5.6, 3.1),
        maximum_c=(11.1, 12.9, 16.2, 17.9, 22.4, 28.4, 32.1, 31.9, 27.2, 20.6, 14.6, 11.5),
    ),
    SitePlan(
        name=HILLSIDE, country_code="PT", region="Inland centre, invented", time_zone="Europe/Lisbon",
        latitude=39.958, longitude=-7.402,
        outline_m=((0, 0), (510, -40), (990, 10), (1010, 420), (960, 810), (480, 830), (20, 780), (-25, 400)),
        elevation_m=380,
        description="Hot dry hillside on schist, burnt in 2022. Wattle stands below the southern edge.",
        access_notes="From June to September work stops at noon. Carry water.",
        emergency_contact="Demo only, no real number: fire post, channel 7",
        rain_mm=(84, 72, 58, 60, 47, 18, 4, 6, 30, 78, 88, 92),
        minimum_c=(4.0, 4.9, 7.0, 8.5, 11.7, 15.8, 18.2, 18.3, 16.0, 12.1, 7.6, 4.8),
        maximum_c=(12.9, 14.8, 18.3, 20.2, 25.1, 31.3, 35.0, 34.8, 29.9, 22.8, 16.6, 13.2),
    ),
)  # fmt: skip
