"""Statements as banks write them, made here from the standards.

OFX 1.0.2 and 2.1.1 (Open Financial Exchange specification, sections 2.2, 2.3, 3.2.8, 3.2.9 and 11.4); ISO 20022
camt.053.001.02 (2009) and camt.053.001.08 (2019), BankToCustomerStatement: in the latter a state is an element Sts/Cd.
"""

from collections.abc import Sequence
from typing import NamedTuple

OFX_1 = """OFXHEADER:100\r
DATA:OFXSGML\r
VERSION:102\r
SECURITY:NONE\r
ENCODING:USASCII\r
CHARSET:1252\r
COMPRESSION:NONE\r
OLDFILEUID:NONE\r
NEWFILEUID:NONE\r
\r
"""
OFX_2 = """<?xml version="1.0" encoding="UTF-8" standalone="no"?>
<?OFX OFXHEADER="200" VERSION="211" SECURITY="NONE" OLDFILEUID="NONE" NEWFILEUID="NONE"?>
"""
CAMT = "urn:iso:std:iso:20022:tech:xsd:camt.053.001."


class Booked(NamedTuple):
    """One line as the bank has it; `code`: what the standard calls it (TRNTYPE, or the sub-family of a camt entry)."""

    line: str
    day: str  # 2027-03-12
    amount: str
    text: str = ""
    reference: str = ""
    code: str = ""


def ofx_1(lines: Sequence[Booked], account: str = "000004711", currency: str = "USD") -> bytes:
    """SGML: elements have no end tags, aggregates do."""
    told = "".join(
        f"<STMTTRN>\r\n<TRNTYPE>{one.code or 'OTHER'}\r\n<DTPOSTED>{one.day.replace('-', '')}120000.000[-5:EST]\r\n"
        f"<TRNAMT>{one.amount}\r\n<FITID>{one.line}\r\n"
        + (f"<CHECKNUM>{one.reference}\r\n" if one.reference else "")
        + f"<NAME>{one.text}\r\n</STMTTRN>\r\n"
        for one in lines
    )
    return (
        OFX_1 + "<OFX>\r\n<SIGNONMSGSRSV1><SONRS><STATUS><CODE>0<SEVERITY>INFO</STATUS><DTSERVER>20270312"
        "<LANGUAGE>ENG</SONRS></SIGNONMSGSRSV1>\r\n<BANKMSGSRSV1><STMTTRNRS><TRNUID>0<STATUS><CODE>0<SEVERITY>INFO"
        f"</STATUS>\r\n<STMTRS><CURDEF>{currency}<BANKACCTFROM><BANKID>1<ACCTID>{account}<ACCTTYPE>CHECKING"
        f"</BANKACCTFROM>\r\n<BANKTRANLIST><DTSTART>20270208<DTEND>20270430\r\n{told}</BANKTRANLIST>\r\n"
        "<LEDGERBAL><BALAMT>0.00<DTASOF>20270430</LEDGERBAL></STMTRS></STMTTRNRS></BANKMSGSRSV1>\r\n</OFX>\r\n"
    ).encode("cp1252")


def ofx_2(lines: Sequence[Booked], account: str = "000004711", currency: str = "USD") -> bytes:
    """XML: everything has its end tag."""
    told = "".join(
        f"<STMTTRN><TRNTYPE>{one.code or 'OTHER'}</TRNTYPE><DTPOSTED>{one.day.replace('-', '')}</DTPOSTED>"
        f"<TRNAMT>{one.amount}</TRNAMT><FITID>{one.line}</FITID>"
        + (f"<CHECKNUM>{one.reference}</CHECKNUM>" if one.reference else "")
        + f"<NAME>{one.text}</NAME></STMTTRN>\n"
        for one in lines
    )
    return (
        OFX_2 + "<OFX><SIGNONMSGSRSV1><SONRS><STATUS><CODE>0</CODE><SEVERITY>INFO</SEVERITY></STATUS></SONRS>"
        f"</SIGNONMSGSRSV1><BANKMSGSRSV1><STMTTRNRS><TRNUID>0</TRNUID><STMTRS><CURDEF>{currency}</CURDEF><BANKACCTFROM>"
        f"<BANKID>1</BANKID><ACCTID>{account}</ACCTID><ACCTTYPE>CHECKING</ACCTTYPE></BANKACCTFROM><BANKTRANLIST>"
        f"<DTSTART>20270208</DTSTART><DTEND>20270430</DTEND>\n{told}</BANKTRANLIST></STMTRS></STMTTRNRS></BANKMSGSRSV1></OFX>"
    ).encode()


def camt(
    lines: Sequence[Booked], version: str = "02", account: str = "GB33BUKB20201555004711", currency: str = "USD",
    state: str = "BOOK",
) -> bytes:  # fmt: skip
    """One statement; its entries' states as the version writes them."""
    stated = f"<Sts>{state}</Sts>" if version < "08" else f"<Sts><Cd>{state}</Cd></Sts>"
    told = "".join(
        f'<Ntry><Amt Ccy="{currency}">{one.amount.removeprefix("-")}</Amt>'
        f"<CdtDbtInd>{'DBIT' if one.amount.startswith('-') else 'CRDT'}</CdtDbtInd>{stated}"
        f"<BookgDt><Dt>{one.day}</Dt></BookgDt><ValDt><Dt>{one.day}</Dt></ValDt><AcctSvcrRef>{one.line}</AcctSvcrRef>"
        f"<BkTxCd><Domn><Cd>PMNT</Cd><Fmly><Cd>CNTR</Cd><SubFmlyCd>{one.code or 'OTHR'}</SubFmlyCd></Fmly></Domn>"
        "</BkTxCd>"
        f"<NtryDtls><TxDtls><Refs><EndToEndId>{one.reference or 'NOTPROVIDED'}</EndToEndId></Refs>"
        f"<RmtInf><Ustrd>{one.text}</Ustrd></RmtInf></TxDtls></NtryDtls></Ntry>\n"
        for one in lines
    )
    number = f"<IBAN>{account}</IBAN>" if account[:2].isalpha() else f"<Othr><Id>{account}</Id></Othr>"
    return (
        f'<?xml version="1.0" encoding="UTF-8"?>\n<Document xmlns="{CAMT}{version}"><BkToCstmrStmt>'
        "<GrpHdr><MsgId>m</MsgId><CreDtTm>2027-04-30T06:00:00</CreDtTm></GrpHdr><Stmt><Id>s</Id>"
        f"<Acct><Id>{number}</Id><Ccy>{currency}</Ccy><Ownr><Id><OrgId><Othr><Id>another number</Id></Othr></OrgId>"
        '</Id></Ownr></Acct><Bal><Tp><CdOrPrtry><Cd>CLBD</Cd></CdOrPrtry></Tp><Amt Ccy="USD">0.00</Amt>'
        "<CdtDbtInd>CRDT</CdtDbtInd><Dt><Dt>2027-04-30</Dt></Dt></Bal>\n"
        f"{told}</Stmt></BkToCstmrStmt></Document>\n"
    ).encode()


KINDS = {
    "ofx 1": ofx_1,
    "ofx 2": ofx_2,
    "camt.053.001.02": camt,
    "camt.053.001.08": lambda lines, **more: camt(lines, "08", **more),
}
