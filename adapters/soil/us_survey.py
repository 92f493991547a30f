"""The US soil survey through its query service: the map units under a field, and the dominant component of the largest one.

Three questions (map units with their clipped shapes; components with aggregate attributes; horizons with texture), answers cached for
a year since the survey changes about yearly. Numbers and ids that go into a question are written by code alone, never text of a
user. Areas of the clipped shapes are measured here, on the ellipsoid. Units of the survey: water content % by volume, particles %,
depths cm, slope %.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import timedelta
from typing import Any

import shapely
from pyproj import Geod
from shapely import wkt
from shapely.geometry import Point, shape
from shapely.geometry.polygon import orient

from adapters.http.polite import PoliteClient
from adapters.soil.found import FoundSoil
from shared.errors import SoilUnavailable, WeatherUnavailable

URL = "https://sdmdataaccess.sc.egov.usda.gov/tabular/post.rest"
YEAR = timedelta(days=365)
MOST_CORNERS, COARSE_DEG = 800, 0.00005
AROUND_DEG = 0.0005
"""Half the side of the square that stands for a field without outline (about 50 m)."""
TOP_CM = 30.0
NEXT_SHARE = 0.2
UNITS_SQL = (
    "SELECT p.mukey, p.mupolygongeo.STIntersection(geometry::STGeomFromText('{wkt}', 4326)).STAsText() AS wkt FROM mupolygon AS p "
    "WHERE p.mupolygongeo.STIntersects(geometry::STGeomFromText('{wkt}', 4326)) = 1;"
)
COMPONENTS_SQL = (
    "SELECT mu.mukey, mu.musym, mu.muname, co.cokey, co.compname, co.comppct_r, co.drainagecl, co.hydgrp, ma.drclassdcd, ma.hydgrpdcd, "
    "ma.slopegradwta, ma.pondfreqprs FROM mapunit AS mu JOIN muaggatt AS ma ON ma.mukey = mu.mukey JOIN component AS co ON co.mukey = mu.mukey "
    "WHERE mu.mukey IN ({keys}) AND co.cokey = (SELECT TOP 1 c2.cokey FROM component AS c2 WHERE c2.mukey = mu.mukey "
    "AND ISNULL(c2.compkind, '') <> 'Miscellaneous area' ORDER BY c2.comppct_r DESC, c2.cokey);"
)
HORIZONS_SQL = (
    "SELECT ch.cokey, ch.hzdept_r, ch.hzdepb_r, ch.wthirdbar_r, ch.wfifteenbar_r, ch.sandtotal_r, ch.claytotal_r, ch.om_r, t.texcl "
    "FROM chorizon AS ch LEFT JOIN chtexturegrp AS tg ON tg.chkey = ch.chkey AND tg.rvindicator = 'Yes' "
    "LEFT JOIN chtexture AS t ON t.chtgkey = tg.chtgkey WHERE ch.cokey IN ({keys}) ORDER BY ch.cokey, ch.hzdept_r;"
)
Row = Mapping[str, Any]


class UsSurvey:
    """Answers by field."""

    def __init__(self, client: PoliteClient, url: str = URL) -> None:
        self._client, self._url = client, url

    def soil_of(
        self, geometry: Mapping[str, Any] | None, latitude_deg: float, longitude_deg: float
    ) -> FoundSoil:
        """Return the soil of a field.

        Parameters
        ----------
        geometry : mapping or None
            GeoJSON outline; the ground around the point where there is none.

        Raises
        ------
        SoilUnavailable
            The service fails, or knows nothing of this ground.
        """
        ground = (
            shape(dict(geometry))
            if geometry
            else Point(longitude_deg, latitude_deg).buffer(AROUND_DEG, cap_style="square")
        )
        shares = self._units(ground)
        if not shares:
            raise SoilUnavailable(
                "the survey has no map unit there (outside the United States, or not surveyed)"
            )
        rows = {str(row["mukey"]): row for row in self._ask(COMPONENTS_SQL.format(keys=_keys(shares)))}
        known = [key for key in sorted(shares, key=lambda key: -shares[key]) if key in rows]
        if not known:
            raise SoilUnavailable("the survey knows only water or built-up ground there")
        main = rows[known[0]]
        horizons = self._ask(HORIZONS_SQL.format(keys=_keys([str(main["cokey"])])))
        return _soil(main, horizons, shares, rows, known)

    def _units(self, ground: Any) -> dict[str, float]:
        """Return the share of the ground in each map unit."""
        shares: dict[str, float] = {}
        for row in self._ask(UNITS_SQL.format(wkt=_question_shape(ground))):
            try:
                area = _area_m2(wkt.loads(str(row["wkt"])))
            except (shapely.errors.ShapelyError, ValueError) as error:
                raise SoilUnavailable("the survey's answer holds a shape that cannot be read") from error
            shares[str(row["mukey"])] = shares.get(str(row["mukey"]), 0.0) + area
        total = sum(shares.values())
        return {key: area / total for key, area in shares.items()} if total > 0 else {}

    def _ask(self, query: str) -> list[Row]:
        try:
            reply = self._client.json(
                self._url, expiry=YEAR, body={"query": query, "format": "JSON+COLUMNNAME"}
            )
        except WeatherUnavailable as error:
            raise SoilUnavailable(str(error).rstrip(".")) from error
        try:
            head, *rows = reply.payload.get("Table", [[]])
            if not isinstance(head, list):
                raise ValueError("no row of headings")
            plain = [row for row in rows if not any(str(cell).startswith("ColumnOrdinal=") for cell in row)]
            return [dict(zip(head, row, strict=True)) for row in plain]
        except (AttributeError, TypeError, ValueError) as error:
            raise SoilUnavailable("the survey's answer is not in its published shape") from error


def _question_shape(ground: Any) -> str:
    """Return a shape as text for a question: few corners, digits written here."""
    coarse = ground if shapely.get_num_coordinates(ground) <= MOST_CORNERS else ground.simplify(COARSE_DEG)
    return str(wkt.dumps(shapely.force_2d(coarse), rounding_precision=6, trim=True))


def _area_m2(surface: Any) -> float:
    """Return the area of what is a surface in a shape [m2]; points and lines of the clipping count nothing."""
    parts = [
        one for piece in shapely.get_parts(surface).tolist() for one in shapely.get_parts(piece).tolist()
    ]
    return sum(
        abs(Geod(ellps="WGS84").geometry_area_perimeter(orient(one, 1.0))[0])
        for one in parts
        if one.geom_type == "Polygon"
    )


def _keys(keys: Sequence[str] | Mapping[str, float]) -> str:
    """Return keys for a question; whole numbers only."""
    try:
        return ", ".join(str(int(key)) for key in keys)
    except ValueError as error:
        raise SoilUnavailable("the survey's answer holds a key that is no number") from error


def _soil(
    main: Row,
    horizons: Sequence[Row],
    shares: Mapping[str, float],
    rows: Mapping[str, Row],
    known: Sequence[str],
) -> FoundSoil:
    top = [one for one in horizons if (_number(one, "hzdept_r") or 0.0) < TOP_CM]
    first = next((str(one["texcl"]).lower() for one in top if one.get("texcl")), "")
    slope, share = _number(main, "slopegradwta"), shares[known[0]]
    others = "; ".join(
        f"{rows[key]['muname']} {shares[key]:.0%}" for key in known[1:] if shares[key] >= NEXT_SHARE
    )
    pond = _number(main, "pondfreqprs") or 0.0
    said = f"{main['muname']} ({share:.0%} of it{'; ' + others if others else ''}), {str(main.get('drainagecl') or main.get('drclassdcd') or 'drainage not said').lower()}"
    return FoundSoil(
        texture=first, sand_share=_mean(top, "sandtotal_r", 100.0), clay_share=_mean(top, "claytotal_r", 100.0),
        organic_matter_pct=_mean(top, "om_r", 1.0), field_capacity_share=_mean(top, "wthirdbar_r", 100.0),
        wilting_point_share=_mean(top, "wfifteenbar_r", 100.0), group=str(main.get("hydgrp") or main.get("hydgrpdcd") or ""),
        slope_share=None if slope is None else slope / 100.0, drainage=str(main.get("drainagecl") or main.get("drclassdcd") or ""),
        said=said + (f"; ponds on {pond:.0f} % of it" if pond >= 15 else ""),
    )  # fmt: skip


def _mean(horizons: Sequence[Row], key: str, per: float) -> float | None:
    """Return the mean over the top 30 cm by thickness; None when a horizon does not say it."""
    total = weight = 0.0
    for one in horizons:
        top, bottom, value = (_number(one, name) for name in ("hzdept_r", "hzdepb_r", key))
        if top is None or bottom is None:
            continue
        thick = min(TOP_CM, bottom) - top
        if thick > 0 and value is not None:
            total, weight = total + thick * value, weight + thick
    return total / weight / per if weight > 0 else None


def _number(row: Row, key: str) -> float | None:
    try:
        return float(row[key]) if row.get(key) not in (None, "") else None
    except (TypeError, ValueError):
        return None
