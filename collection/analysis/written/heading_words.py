"""The words that people put above the columns of their own lists, by what the column holds.

Common practice, no source. Folded, without punctuation; "#" and "№" are read as "no".
"""

from __future__ import annotations

# subject: {field: phrases}. The first field that has a phrase is the likeliest.
UNITS = {
    "units.tag": "tag; id; asset; asset no; unit; inventory no; inv no; inventarnr; inventar; label; my no; nr; no;"
    " number; drive no; unit no; drive id; unit id; tag no; etikett; nummer; lfd nr;"
    " asset tag; inv; inv nr; item no; drive id no; label no",
    "units.serial": "serial; serial no; serial number; s n; sn; ser no; ser; serialno; serial nr; seriennummer;"
    " seriennr; serien nr; no de serie; factory number; fabriknummer",
    "models.model": "model; type; model no; model name; what; item; drive; modell; typ; model number; name; geraet;"
    " gerät; bezeichnung; description; drive model; device; laufwerk; what it is;"
    " p n; part no; part number",
    "models.maker": "maker; make; manufacturer; brand; made by; hersteller; marke; fabricant; company; mfr; mfg",
    "models.kind": "kind; category; class; art; kategorie; sort; kind of thing",
    "models.drive_type": "drive type; motor; belt or direct; drive system; antrieb; motor type",
    "models.nominal_speed": "nominal speed; nominal rpm; rated speed; nenndrehzahl; soll drehzahl; should be rpm",
    "models.media": "media; disk size; size; format; zoll; inch; inches; form factor",
    "models.replacement_value": "replacement value; new price; price new; replacement cost; wiederbeschaffungswert;"
    " neuwert",
    "units.acquired_on": "bought; acquired; date acquired; date bought; bought on; purchase date; date of purchase;"
    " purchased; acquired on; got; got it; got on; got when; since; when bought; when; date; gekauft; gekauft am;"
    " kaufdatum; datum; erworben; erworben am; anschaffung; date in; in collection since; received; arrived;"
    " year acquired; year bought; date of acquisition; acquired when; in my hands since",
    "units.acquired_from": "bought from; from; acquired from; source; seller; got from; where from; origin; vendor;"
    " gekauft bei; gekauft von; von; quelle; verkäufer; herkunft; supplier; purchased from; bought where",
    "units.price": "price; price paid; paid; cost; what i paid; purchase price; costs; preis; kaufpreis; bezahlt;"
    " kosten; eur; euro; euros; gbp; usd; amount; how much; prix",
    "units.currency": "currency; währung; curr",
    "units.owner": "owner; belongs to; whose; owned by; owners; property of; besitzer; eigentümer; gehört; who",
    "units.location": "location; where; shelf; place; room; box; stored; stored in; storage; where is it; position;"
    " kept; kept in; rack; standort; ort; lagerort; regal; wo; lager; platz; cupboard; drawer; bin;"
    " where kept; kept where; kept at; where stored; whereabouts; now at; aufbewahrt;"
    " storage location; where is it now; location now; box no; room shelf; storage place",
    "units.standing": "standing; status; state; works; working; zustand; funktion; tested; working state;"
    " does it work; funktioniert; läuft;"
    " working y n; works y n; working yes no; working or not; runs",
    "units.condition": "condition; cond; cosmetic; looks; cosmetic condition; optik; appearance",
    "units.marks": "marks; stickers; markings; labels; aufkleber",
    "units.jumpers": "jumpers; jumper; jumper settings; ds; drive select; dip; dip switches; id jumper",
    "units.rom": "rom; rom version; firmware; rom rev; fw",
    "units.modifications": "modifications; mods; modified; modification; umbauten; changes made",
    "units.accessories": "accessories; came with; cables; zubehör; with; extras; includes; original box;"
    " orig box; boxed; packaging; ovp",
    "units.note": "note; notes; remarks; comment; comments; remark; bemerkung; bemerkungen; notiz; notizen; info;"
    " anmerkung; kommentar; misc; other",
}
SERVICES = {
    "service.tag": "tag; drive; unit; drive no; unit no; no; number; id; which; which drive; laufwerk; gerät; nr;"
    " asset; nummer; which unit; drive id; item; what",
    "service.opened_on": "date; day; when; serviced; serviced on; service date; last serviced; last service; opened;"
    " date of service; done on; on; datum; am; wann; gewartet; gewartet am; last cleaned; cleaned; cleaned on; started;"
    " in;"
    " last tested; tested on; date tested; last test; last maintenance; date done; last overhaul",
    "service.closed_on": "closed; finished; closed on; done by; completed; ready on; fertig; fertig am; finished on;"
    " out",
    "service.work": "work; done; what i did; work done; job; jobs; what was done; did; service; action; task; tasks;"
    " maintenance; repair; repairs; what; arbeit; arbeiten; gemacht; was gemacht; procedure; procedures; wartung;"
    " tätigkeit; actions;"
    " work carried out; work performed; description; description of work; details; service done",
    "service.used": "used; supplies; supplies used; parts used; materials; material; used up; consumed; what i used;"
    " consumables; verbraucht; verbrauch; parts; stuff used; verwendet;"
    " consumables used; materials used; used materials; used supplies",
    "service.findings": "findings; found; notes; note; remarks; what i found; comments; observations; comment; befund;"
    " bemerkung; bemerkungen; notizen; remark; problems found",
    "service.by": "by; who; done by; technician; worked by; serviced by; von; wer; person; name; bearbeiter; tech;"
    " by whom; operator; repaired by; performed by",
    "service.minutes": "minutes; time; time taken; mins; min; duration; how long; dauer; zeit; minuten; time spent",
    "service.outcome": "outcome; result; status; state; standing; ergebnis; resultat; works after",
    "service.reason": "reason; why; grund; warum; because",
    "service.parts": "parts fitted; new parts; fitted; replaced; parts replaced; teile; ersatzteile",
}
READINGS = {
    "readings.tag": "tag; drive; unit; drive no; no; number; id; which drive; laufwerk; gerät; nr",
    "readings.taken_on": "date; day; when; measured; measured on; taken on; on; datum; gemessen; gemessen am; am",
    "readings.measurement": "measurement; what; measured what; quantity measured; test; parameter; messung; messgröße",
    "readings.point": "point; rail; head; track; where; messpunkt; position",
    "readings.instrument": "instrument; with; meter; measured with; tool; tester; program; gerät benutzt; messgerät;"
    " software; method",
    "readings.value": "value; reading; result; wert; messwert; measured value; ergebnis",
    "readings.stage": "stage; before or after; when in service; as found or as left; stufe",
    "readings.measured_in": "unit of measure; units; measured in; einheit; unit measured in",
    "readings.disk": "disk; disk used; reference disk; diskette; test disk",
    "readings.supply_unit": "supply unit; power supply; psu; netzteil",
    "readings.warm_up_minutes": "warm up; warmup; warm up minutes; warm up min; aufwärmzeit",
    "readings.load": "load; last; load a",
    "readings.note": "note; notes; remarks; comment; comments; bemerkung; bemerkungen",
}
SUPPLIES = {
    "supplies.supply": "supply; item; what; name; material; article; product; consumable; thing; artikel; was; part;"
    " description; bezeichnung; spare; verbrauchsmaterial; part name; stuff",
    "supplies.kind": "kind; type; category; art; kategorie; typ; sort; class",
    "lots.quantity": "qty; quantity; in stock; stock; have; how many; how much; amount; on hand; count; left; menge;"
    " bestand; anzahl; vorrat; auf lager; stück; qty in stock; number; pieces; contents; pack; remaining;"
    " qty left; amount left; left over; stock level; stock now; how many left",
    "supplies.measured_in": "unit; units; measured in; unit of measure; einheit; uom",
    "lots.lot": "lot; batch; lot no; batch no; charge; lot number; charge nr; batch number",
    "lots.received_on": "received; bought; date; bought on; date bought; purchased; received on; gekauft; datum;"
    " gekauft am; when; got; arrived; erhalten",
    "lots.price": "price; cost; paid; price paid; preis; kosten; total; how much paid; price total; bezahlt",
    "lots.supplier": "supplier; shop; from; bought from; where bought; vendor; seller; source; store; where from;"
    " laden; händler; lieferant; gekauft bei; where; bezugsquelle; got from",
    "lots.expires_on": "best before; expires; expiry; use by; expiry date; bb; exp; expires on; good until;"
    " haltbar bis; mhd; verfallsdatum; ablaufdatum; ablauf; best by;"
    " exp date; expire; expiration; expiration date; expiry day",
    "lots.made": "made; date of manufacture; date code; manufactured; quarter; hergestellt; herstelldatum; cure date",
    "lots.opened_on": "opened; opened on; open since; geöffnet; angebrochen; date opened",
    "lots.location": "location; shelf; where kept; kept; place; lagerort; regal; drawer; where is it; stored; bin",
    "supplies.size": "size; dimensions; dimension; length; diameter; größe; maße; abmessung",
    "supplies.fits": "fits; for; for drive; used for; suits; passt; passt zu; für; fits models; for model; compatible;"
    " for which drive; which drive; for what; for which; goes in",
    "supplies.strength": "strength; grade; concentration; percent; purity; stärke",
    "supplies.shelf_life_months": "shelf life; keeps; haltbarkeit; shelf life months",
    "supplies.wanted_chance": "wanted chance; service level",
    "offers.price": "price per pack; pack price; unit price; price each; preis pro packung; stückpreis; list price",
    "offers.pack_quantity": "pack size; per pack; pack of; packungsgröße; inhalt; packing unit; in a pack",
    "offers.supplier": "offered by; order from; reorder from; bestellen bei",
    "suppliers.lead_days": "lead time; delivery; delivery days; lead days; days; lieferzeit; delivery time",
    "suppliers.shipping": "shipping; postage; p p; versand; porto; versandkosten; shipping cost",
    "supplies.note": "note; notes; remarks; comment; comments; bemerkung; bemerkungen; info",
}
FAULTS = {
    "fault.tag": "tag; drive; unit; drive no; no; number; id; laufwerk; gerät; nr; which; which drive; item",
    "fault.noticed_on": "date; noticed; noticed on; date noticed; date found; date seen;"
    " found; found on; reported; since; when; opened; datum; first seen;"
    " seit; gemeldet; aufgetreten; day; seen;"
    " first noticed; noticed first; date of fault",
    "fault.symptom": "symptom; fault; problem; what is wrong; whats wrong; what s wrong; issue; symptoms; complaint;"
    " error; trouble; defect; fehler; defekt; faults; what happens; what it does; störung; fehlerbild; what;"
    " fault description; description; description of fault; problem description",
    "fault.circumstances": "circumstances; when it happens; conditions; cold or warm; happens when; umstände",
    "fault.cause": "cause; reason; why; diagnosis; caused by; ursache; grund; what it was; root cause",
    "fault.cure": "cure; fix; fixed by; repair; solution; remedy; what helped; how fixed; behebung; lösung; abhilfe;"
    " reparatur; repaired by; what fixed it; action;"
    " repair done; how it was fixed",
    "fault.closed_on": "closed; fixed; fixed on; closed on; repaired; cured; repaired on; date fixed; behoben;"
    " behoben am; erledigt; done; resolved; solved",
    "fault.by": "by; who; reported by; found by; von; wer; name",
    "fault.note": "note; notes; remarks; comment; comments; bemerkung; bemerkungen",
}
LOANS = {
    "loan.tag": "tag; drive; unit; what; item; no; number; id; thing; laufwerk; gerät; was; nr; which; lent what",
    "loan.person": "person; borrower; who; to; lent to; name; to whom; loaned to; borrowed by; wer; an; an wen;"
    " ausleiher; entleiher; verliehen an; friend;"
    " on loan to; who has it; given to; with whom",
    "loan.out_on": "out; lent; out on; lent on; date; date out; when; since; from; loaned; taken; verliehen am;"
    " ausgeliehen; datum; seit; verliehen; day; loan date;"
    " date lent; lent date; out since; loaned on; start",
    "loan.due_on": "due; due back; due on; until; due date; return by; back by; bis; fällig; fällig am; rückgabe bis;"
    " expected back; back expected; return expected; expected return; back due",
    "loan.back_on": "back; returned; back on; returned on; date back; return date; came back; zurück; zurück am;"
    " rückgabe; date returned; in;"
    " actual return; returned date; actually back; end",
    "loan.purpose": "purpose; for; why; reason; for what; zweck; wofür; wozu",
    "loan.condition_out": "condition out; condition when lent; zustand vorher; state out",
    "loan.condition_back": "condition back; condition returned; zustand nachher; state back",
    "loan.deposit": "deposit; kaution; pfand",
    "loan.note": "note; notes; remarks; comment; comments; bemerkung; bemerkungen",
}
VALUATIONS = {
    "valuation.tag": "tag; drive; unit; no; number; id; item; what; laufwerk; gerät; nr",
    "valuation.amount": "value; worth; amount; valued at; valuation; estimated value; insured value; price; wert;"
    " schätzwert; estimate; sum; insured for; betrag; how much; insurance value; zeitwert;"
    " est value; value today; current value; my estimate; estimated worth; replacement value",
    "valuation.valued_on": "date; valued; valued on; when; as of; datum; stand; day; geschätzt am; date valued",
    "valuation.basis": "basis; based on; how; method; kind of value; grundlage; art; type",
    "valuation.by": "by; who; valued by; estimated by; appraised by; appraiser; expert; von; gutachter; name",
    "valuation.evidence": "evidence; proof; source; where from; beleg; quelle; reference; link; receipt",
    "valuation.currency": "currency; währung",
    "valuation.note": "note; notes; remarks; comment; comments; bemerkung; bemerkungen",
}
SUBJECTS = {
    "units": UNITS,
    "services": SERVICES,
    "readings": READINGS,
    "supplies": SUPPLIES,
    "faults": FAULTS,
    "loans": LOANS,
    "valuations": VALUATIONS,
}

# Measurements of the reference data by what people call them; the part behind the colon is the point.
MEASUREMENTS = {
    "spindle speed": "rpm; speed; spindle speed; r min; u min; umin; drehzahl; index period; period; revs; rev min;"
    " speed rpm; rpm speed; spindle rpm; tr min",
    "radial alignment": "alignment; radial alignment; radial; head alignment; spur; spurlage",
    "azimuth": "azimuth; azimut",
    "track-zero stop": "track zero; track 0; track 00; track zero stop; tk0; tk00; stop clearance; anschlag",
    "index timing": "index timing; index; index to data; index burst",
    "rail voltage:+5 V": "5v; 5 v; plus 5 v; 5 volt; 5v rail; 5 v rail",
    "rail voltage:+12 V": "12v; 12 v; plus 12 v; 12 volt; 12v rail; 12 v rail",
    "rail voltage:-5 V": "minus 5v; minus 5 v; neg 5v",
    "rail voltage:-12 V": "minus 12v; minus 12 v; neg 12v",
    "ripple:+5 V": "5v ripple; ripple 5v; 5 v ripple; ripple 5 v",
    "ripple:+12 V": "12v ripple; ripple 12v; 12 v ripple; ripple 12 v",
    "read errors": "read errors; errors; bad sectors; bad tracks; crc errors; lesefehler; errors read",
    "surface temperature": "temperature; temp; surface temperature; hot; temperatur; deg c; c",
    "visual condition of capacitors": "caps; capacitors; cap condition; condition of capacitors; kondensatoren; elkos",
    "head condition": "head; heads; head condition; kopf; köpfe; head state",
    "belt condition": "belt; belt condition; riemen; belt state",
    "electrical safety": "electrical safety; pat; safety test; pat test; e check; safety",
}
AS_FOUND = frozenset(
    (
        "before",
        "as found",
        "found",
        "in",
        "pre",
        "incoming",
        "at start",
        "first",
        "initial",
        "vorher",
        "vor",
        "alt",
        "old",
    )
) | frozenset(("start", "prior", "on arrival", "eingang", "avant", "b4", "measured before"))
AS_LEFT = frozenset(
    ("after", "as left", "left", "out", "post", "outgoing", "at end", "final", "now", "nachher", "nach", "neu", "new")
) | frozenset(("end", "set to", "adjusted", "adjusted to", "ausgang", "après", "apres", "last", "measured after"))
