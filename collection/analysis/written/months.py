"""The names of months, weekdays and parts of a year in the languages that sheets are written in.

English, German, French, Spanish; full names and the usual short ones, folded. Common practice, no source.
"""

from __future__ import annotations

from collection.analysis.written.forms import word_set

_NAMES = (
    "january jan januar jänner jän jaenner janvier janv enero ene",
    "february feb febr februar fév fev févr fevr février fevrier febrero",
    "march mar mär märz maerz mrz mars marzo",
    "april apr avril avr abril abr",
    "may mai mayo",
    "june jun juni juin junio",
    "july jul juli juillet juil julio",
    "august aug août aout agosto ago",
    "september sep sept septembre septiembre set setiembre",
    "october oct oktober okt octobre octubre",
    "november nov novembre noviembre",
    "december dec dezember dez décembre decembre déc diciembre dic",
)
MONTHS = {name: number for number, names in enumerate(_NAMES, 1) for name in names.split()}
WEEKDAYS = word_set(
    "monday mon tuesday tue tues wednesday wed thursday thu thur thurs friday fri saturday sat sunday sun "
    "montag mo dienstag di mittwoch mi donnerstag do freitag fr samstag sa sonnabend sonntag so "
    "lundi lun mardi mercredi mer jeudi jeu vendredi ven samedi sam dimanche dim "
    "lunes martes miércoles miercoles mié jueves jue viernes vie sábado sabado sáb domingo dom"
)
FILLERS = word_set("of the in on am im den der de del d le el en at year jahr")
PARTS_OF_YEAR = word_set(
    "spring summer autumn fall winter easter christmas xmas early mid late middle beginning start end "
    "frühling frühjahr fruehjahr sommer herbst anfang mitte ende ostern weihnachten "
    "printemps été ete automne hiver début debut fin primavera verano otoño invierno"
)
