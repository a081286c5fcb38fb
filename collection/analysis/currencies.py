"""Codes of currencies: those of today, and those in which old units were paid for."""

from __future__ import annotations

from collection.errors import Refused

# ISO 4217:2015, list one (current currencies and funds) and list three (historic denominations), read in published
# copies of both lists as of 2025 and compared with a second copy. The fund codes CLF, UYI and UYW are left out:
# `quantity.py` counts no amounts in them.
_CURRENT = (
    "AED AFN ALL AMD AOA ARS AUD AWG AZN BAM BBD BDT BGN BHD BIF BMD BND BOB BOV BRL BSD BTN BWP BYN BZD CAD CDF CHE "
    "CHF CHW CLP CNY COP COU CRC CUP CVE CZK DJF DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP GEL GHS GIP GMD GNF GTQ GYD "
    "HKD HNL HTG HUF IDR ILS INR IQD IRR ISK JMD JOD JPY KES KGS KHR KMF KPW KRW KWD KYD KZT LAK LBP LKR LRD LSL LYD "
    "MAD MDL MGA MKD MMK MNT MOP MRU MUR MVR MWK MXN MXV MYR MZN NAD NGN NIO NOK NPR NZD OMR PAB PEN PGK PHP PKR PLN "
    "PYG QAR RON RSD RUB RWF SAR SBD SCR SDG SEK SGD SHP SLE SOS SRD SSP STN SVC SYP SZL THB TJS TMT TND TOP TRY TTD "
    "TWD TZS UAH UGX USD USN UYU UZS VED VES VND VUV WST XAF XAG XAU XBA XBB XBC XBD XCD XCG XDR XOF XPD XPF XPT XSU "
    "XTS XUA XXX YER ZAR ZMW ZWG"
)
_HISTORIC = (
    "ADP AFA ALK ANG AOK AON AOR ARA ARP ARY ATS AYM AZM BAD BEC BEF BEL BGJ BGK BGL BOP BRB BRC BRE BRN BRR BUK BYB "
    "BYR CHC CSD CSJ CSK CUC CYP DDM DEM ECS ECV EEK ESA ESB ESP FIM FRF GEK GHC GHP GNE GNS GQE GRD GWE GWP HRD HRK "
    "IEP ILP ILR ISJ ITL LAJ LSM LTL LTT LUC LUF LUL LVL LVR MGF MLF MRO MTL MTP MVQ MXP MZE MZM NIC NLG PEH PEI PES "
    "PLZ PTE RHD ROK ROL RUR SDD SDP SIT SKK SLL SRG STD SUR TJR TMM TPE TRL UAK UGS UGW USS UYN UYP VEB VEF VNC XEU "
    "XFO XFU XRE YDD YUD YUM YUN ZAL ZMK ZRN ZRZ ZWC ZWD ZWL ZWN ZWR"
)
CURRENT, HISTORIC = frozenset(_CURRENT.split()), frozenset(_HISTORIC.split())
_NEAREST = 3


def is_currency(code: str) -> bool:
    """Say whether a currency has, or had, a code in capitals."""
    return code in CURRENT or code in HISTORIC


def refuse_unknown_currency(code: str) -> None:
    """Refuse a code, in capitals, that no currency has or had; the refusal names those that look most like it."""
    if is_currency(code):
        return
    near = _near(code)
    raise Refused(
        f'"{code}" is not the code of a currency (ISO 4217).',
        f"Nearest: {', '.join(near)}." if near else "Type three capitals, as EUR.",
    )


def _near(code: str) -> list[str]:
    """Return codes of the same letters, or that differ in one place: those of today first."""
    begun = code[:3]

    def differ(other: str) -> int:
        return sum(a != b for a, b in zip(begun, other, strict=True))

    if len(begun) < 3:
        return []
    alike = [each for each in CURRENT | HISTORIC if differ(each) < 2 or sorted(each) == sorted(begun)]
    alike.sort(key=lambda each: (each in HISTORIC, sorted(each) != sorted(begun), differ(each), each))
    return alike[:_NEAREST]
