"""What the contract's columns are called elsewhere, in plain words of the trade and of offices.

Comes in: nothing. Goes out: for each column the words that a header may use in its place, and how words are shortened.
"""

import re
import unicodedata
from functools import lru_cache

SHORT = {
    "no": "number", "nr": "number", "num": "number", "nbr": "number", "id": "number", "code": "number",
    "qty": "quantity", "qnty": "quantity", "amt": "amount", "dt": "date", "ref": "reference", "doc": "document",
    "desc": "description", "pkg": "packages", "pkgs": "packages", "package": "packages", "pcs": "pieces",
    "ctn": "cases", "ctns": "cases", "case": "cases", "cartons": "cases", "carton": "cases", "tel": "phone",
    "wk": "week", "ppl": "people", "reg": "registered", "txn": "transaction", "acct": "account", "addr": "address",
}  # fmt: skip
SHORT |= {"n": "number", "num": "number", "numero": "number", "nummer": "number", "anz": "anzahl", "stk": "stuck"}
FILLERS = {"the", "of", "a", "an", "in", "this", "per", "de", "des", "du", "la", "le", "les", "l", "d", "el", "los",
           "las", "del", "der", "die", "das", "den", "von", "am", "au", "aux", "en"}  # fmt: skip

NAMES: dict[str, str] = {
    "troop": "troop, troop number, unit, unit number, group, group number, unit name",
    "week_ending": "week ending, week end, week ended, week to, period end, period ending",
    "prepared_by": "prepared by, filled by, author",
    "prepared_on": "prepared on, date prepared",
    "bank_balance": "bank balance, account balance",
    "balance_on": "balance on, balance date",
    "participant": "participant, participant number, member, member number, youth, youth number, seller, child, person",
    "item": "item, item number, product, product number, article, article number, sku, variety, description, goods, "
    "category",
    "packages": "packages, quantity, packs, pieces, bags, count, quantity ordered, quantity shipped, cases",
    "received": "received, fetched, brought in",
    "damaged": "damaged, broken, spoiled, unsaleable",
    "on_hand": "on hand, counted, stock count, left, remaining, in stock, physical count",
    "cash": "cash, cash taken, cash and cheques, cash collected",
    "card": "card, card payments, electronic payments, paid by card",
    "gift": "gift, gifts, money given",
    "end": "end, end time, until, closed at, ends at",
    "note": "note, notes, remark, remarks, comment, comments, memo",
    "date": "date, day, shipped, shipped on, delivery date, pickup date, transaction date, posting date",
    "start": "start, start time, from, opened at, begins",
    "place": "place, location, site, venue, where, shop",
    "amount": "amount, total, value, sum, paid, payment, payment amount, deposit amount, amount paid",
    "slip": "slip, slip number, deposit slip, bank slip",
    "direction": "direction, in or out, way",
    "other_troop": "other troop, other unit, from troop, to troop, counterpart, exchanged with",
    "goal": "goal, target, aim",
    "made_elsewhere": "made elsewhere, sold elsewhere",
    "award": "award, badge, award number",
    "steps": "steps done, steps completed",
    "handed_on": "handed on, handed over, given on",
    "level": "level, age level, section, grade, age group",
    "leader": "leader, leader name, volunteer, contact person, contact name",
    "email": "email, e mail, mail address, email address",
    "phone": "phone, telephone, mobile, phone number",
    "opened_on": "opened on, open from, starts on",
    "closed_on": "closed on, open until, ends on",
    "extra_rate": "extra rate, added rate, supplement",
    "divisor": "divisor, members counted",
    "registered_on": "registered on, registered, registration date, joined, join date, member since",
    "left_on": "left on, leaving date, end date, departed",
    "contact_on_file": "contact on file, caregiver contact, guardian contact, contact known",
    "document": "document, document number, receipt, receipt number, delivery note, invoice number, voucher",
    "kind": "kind, type, transaction type, movement, movement type, document type, what",
    "order": "order, order number, web order, online order",
    "placed_on": "placed on, order date, ordered on, date ordered, date placed, ordered",
    "mode": "mode, delivery, delivery method, shipping method, method, fulfilment, order type, delivery type",
    "state": "state, status, order status, payment status, stage",
    "state_on": "state on, status date, last change, updated on, status since, last updated, changed on",
    "goods_amount": "goods amount, goods, goods total, product total, merchandise, subtotal, items total, net amount",
    "shipping_amount": "shipping amount, shipping, postage, shipping cost, freight, shipping charge",
    "on": "on, as of, day, date, collection date, withdrawal date, debit date, due date, due on, balance date",
    "announced_on": "announced on, notice date, notified on, announced, date of notice",
    "account": "account, account number, last four",
    "household": "household, family, family number",
    "arrears": "arrears, past due",
    "line": "line, transaction, transaction id, bank reference, booking number",
    "text": "text, booking text, payee, payer",
    "reference": "reference, reference number, payment number, transaction number, adjustment number",
    "reason": "reason, explanation, return reason, why",
    "authorised_by": "authorised by, authorized by, approved by, agreed by",
    "owed": "owed, balance, balance due, outstanding, amount owed, amount due, open balance",
    "zone": "zone, shipping zone, postage zone",
    "slot": "slot, slot number",
    "rank": "rank, wish, preference",
    "title": "title, place name",
    "town": "town, city",
    "from_on": "from, permitted from",
    "until_on": "until, permitted until",
    "prime": "prime, sought after",
    "vehicle": "vehicle, car, van",
    "cases": "cases carried, capacity",
    "waits_for_caregiver": "waits for caregiver, caregiver pending",
    "own_picture": "own picture, own photo or film, picture, image, media, photo or video",
    "otherwise": "otherwise, if not answered, buyers choice",
    "delivers": "delivers, hand delivery",
    "page_open": "page open, page live, published, page active, page visible",
    "people_told": "people told, invitations, invitations sent, invites, contacts told",
    "week_no": "week number, week, season week",
    "participants": "participants, registered, members, worked by, workers, people working",
}


ELSEWHERE: dict[str, str] = {  # as offices and volunteers write them in German, French and Spanish
    "troop": "gruppe, gruppennummer, stamm, trupp, einheit, groupe, troupe, unite, grupo, tropa, unidad",
    "week_ending": "woche bis, wochenende, woche endet, semaine finissant, fin semaine, semaine jusqu, semana hasta, "
                   "fin semana, semana terminada",
    "participant": "teilnehmer, teilnehmerin, mitglied, mitgliedsnummer, kind, participante, membre, jeune, enfant, "
                   "miembro, socio, vendedor, vendeur",
    "item": "artikel, artikelnummer, ware, sorte, produkt, article, produit, variete, articulo, producto, variedad",
    "packages": "menge, anzahl, stuck, packungen, pakete, tuten, quantite, paquets, sachets, nombre, cantidad, "
                "paquetes, bolsas, unidades",
    "received": "erhalten, recu, recibido",
    "damaged": "beschadigt, kaputt, endommage, abime, danado, estropeado",
    "on_hand": "bestand, lagerbestand, noch da, en stock, restant, reste, existencias, quedan, stock restant",
    "cash": "bar, bargeld, especes, liquide, efectivo",
    "card": "karte, kartenzahlung, carte, carte bancaire, tarjeta",
    "note": "bemerkung, notiz, hinweis, remarque, observations, nota, observaciones",
    "date": "datum, tag, lieferdatum, jour, date livraison, fecha, dia, fecha entrega",
    "place": "ort, platz, lieu, endroit, lugar, sitio",
    "amount": "betrag, summe, montant, somme, importe, monto, cantidad pagada",
    "slip": "einzahlungsbeleg, bordereau, comprobante",
    "goal": "ziel, objectif, but, meta, objetivo",
    "level": "stufe, altersstufe, alter, branche, niveau, tranche age, nivel, rama, grupo edad, age band",
    "leader": "leiter, leiterin, leitung, responsable, chef, dirigente, monitor",
    "email": "mail, courriel, correo, correo electronico",
    "phone": "telefon, handy, portable, telefono, movil",
    "registered_on": "angemeldet, angemeldet am, eintritt, beitritt, inscrit, inscrit le, date inscription, inscrito, "
                     "fecha inscripcion, alta",
    "left_on": "ausgetreten, austritt, parti, date depart, baja, fecha baja",
    "contact_on_file": "elternkontakt, contact parent, contacto familiar",
    "document": "beleg, belegnummer, lieferschein, lieferscheinnummer, rechnung, bon, bon livraison, bordereau "
                "livraison, facture, recibo, albaran, factura, documento",
    "kind": "art, vorgang, bewegung, type, tipo, movimiento, mouvement",
    "order": "bestellung, bestellnummer, commande, numero commande, pedido, numero pedido",
    "placed_on": "bestellt, bestellt am, bestelldatum, date commande, commande le, fecha pedido",
    "mode": "lieferart, versandart, livraison, mode livraison, entrega, modo entrega",
    "state": "status, zustand, stand, etat, statut, estado",
    "state_on": "status am, geandert am, date etat, etat depuis, fecha estado, estado desde",
    "goods_amount": "warenwert, montant articles, total articles, importe articulos",
    "shipping_amount": "versandkosten, porto, frais port, gastos envio",
    "on": "stichtag, fallig am, abbuchung am, date prelevement, prelevement le, fecha cobro, cobro",
    "announced_on": "angekundigt, angekundigt am, annonce le, avis, anunciado, fecha aviso",
    "reference": "zahlungsnummer, verwendungszweck, referenz, numero paiement, numero pago, referencia",
    "reason": "grund, begrundung, motif, raison, motivo, razon",
    "authorised_by": "genehmigt von, genehmigt durch, autorise par, approuve par, autorizado por",
    "owed": "offen, offener betrag, saldo, schuld, solde, du, montant du, saldo pendiente, deuda",
}  # fmt: skip


@lru_cache(maxsize=20_000)
def words_of(label: str) -> str:
    """A header in plain words: `OrderDate`, `order_dt.` and `Order date` are one."""
    text = unicodedata.normalize("NFKD", re.sub(r"(?<=[a-z0-9])(?=[A-Z])", " ", label[:120]))
    text = "".join(mark if mark.isalnum() else " " for mark in text if not unicodedata.combining(mark)).casefold()
    words = [SHORT.get(word, word) for word in text.split()]
    return " ".join(word for word in words if word not in FILLERS) or " ".join(words)


def phrases_of(column: str) -> tuple[str, ...]:
    """What a column may be called, in plain words, its own name first."""
    listed = [column.replace("_", " "), *NAMES.get(column, "").split(", "), *ELSEWHERE.get(column, "").split(", ")]
    return tuple(dict.fromkeys(words_of(phrase) for phrase in listed if phrase))
