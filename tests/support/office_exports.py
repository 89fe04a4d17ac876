"""Twenty invented exports with headers as offices and volunteers write them, in English, German, French and Spanish.

Comes in: nothing. Goes out: OFFICES: each with the table it is and what feeds the columns that decide a figure. Troops,
participants and items are those of trial.py.
"""

from dataclasses import dataclass, field


@dataclass(frozen=True, repr=False)
class Office:
    """One export: `feeds`, column → header, of the columns that make a figure; "" where nothing may feed it."""

    name: str
    table: str
    text: str
    feeds: dict[str, str] = field(default_factory=dict)

    @property
    def payload(self) -> bytes:
        return self.text.strip("\n").encode() + b"\n"


OFFICES = (
    Office("debits.csv", "collections", """
Unit,Debit date,Debit amount,Announced
0417,2027-03-12,120.50,2027-03-01
0031,2027-03-12,80.00,2027-03-01
""", {"troop": "Unit", "on": "Debit date", "amount": "Debit amount"}),
    Office("roster spring.csv", "roster", """
Troop #,Member ID,Joined,Level
0417,0417-01,2026-10-01,younger
0417,0417-02,2026-10-01,younger
0031,0031-01,2026-10-03,older
""", {"troop": "Troop #", "participant": "Member ID", "registered_on": "Joined"}),
    Office("units.csv", "troops", """
Unit number,Age band,Contact person,Contact email,Mobile
0417,younger,Jo,jo@example.org,555 0101
0031,older,Al,al@example.org,555 0102
""", {"troop": "Unit number", "level": "Age band"}),
    Office("leader sheet.csv", "families", """
Unit,Week ending,Seller,GLA,HRB,Cash,Card
0417,2027-02-14,0417-01,5,2,20.50,6.00
0417,2027-02-14,0417-02,3,,,18.25
""", {"participant": "Seller", "cash": "Cash", "card": "Card"}),
    Office("garage count.csv", "stock", """
Troop,Week to,Variety,Left in garage,Broken
0417,2027-02-14,Gladiolus bulbs,40,1
0417,2027-02-14,Kitchen herb kit,7,0
""", {"item": "Variety", "on_hand": "Left in garage"}),
    Office("targets.csv", "goals", """
Unit,Week ending,Member,Target
0417,2027-02-14,0417-01,60
0417,2027-02-14,0417-02,45
""", {"participant": "Member", "goal": "Target"}),
    Office("paid in.csv", "remittances", """
Payment no.,Unit,Paid on,Amount paid,Payment status,Status date
Z1,0417,2027-03-02,1234.50,cleared,2027-03-04
Z2,0031,2027-03-02,20.00,pending,2027-03-02
""", {"reference": "Payment no.", "amount": "Amount paid"}),
    Office("credits.csv", "adjustments", """
Adjustment no,Unit,Date,Amount,Reason,Approved by
A1,0417,2027-03-02,15.00,damaged in the depot,Kim
A2,0031,2027-03-03,7.25,short case,Kim
""", {"reference": "Adjustment no", "amount": "Amount"}),
    Office("lieferscheine.csv", "supply", """
Lieferschein-Nr.;Gruppe;Artikel;Lieferdatum;Menge;Vorgang
L1;0417;Gladiolus bulbs;14.02.2027;24;depot
L2;0031;Kitchen herb kit;15.02.2027;12;depot
""", {"document": "Lieferschein-Nr.", "item": "Artikel", "packages": "Menge"}),
    Office("mitglieder.csv", "roster", """
Gruppe;Mitgliedsnummer;Eintritt
0417;0417-01;13.10.2026
0031;0031-01;03.10.2026
""", {"participant": "Mitgliedsnummer", "registered_on": "Eintritt"}),
    Office("abbuchungen.csv", "collections", """
Gruppe;Abbuchung am;Betrag
0417;23.03.2027;"1.120,50"
0031;23.03.2027;80,00
""", {"on": "Abbuchung am", "amount": "Betrag"}),
    Office("bestand.csv", "stock", """
Gruppe;Woche bis;Sorte;Bestand;Beschädigt
0417;14.02.2027;GLA;40;1
0417;14.02.2027;HRB;7;0
""", {"item": "Sorte", "on_hand": "Bestand", "damaged": "Beschädigt"}),
    Office("einzahlungen.csv", "banked", """
Gruppe;Woche bis;Datum;Betrag;Beleg-Nr.
0417;14.02.2027;13.02.2027;120,50;B1
0417;21.02.2027;17.02.2027;80,00;B2
""", {"date": "Datum", "amount": "Betrag"}),
    Office("livraisons.csv", "supply", """
Bon de livraison;Groupe;Produit;Date de livraison;Quantité;Mouvement
B1;0417;GLA;14/02/2027;24;depot
B2;0031;HRB;15/02/2027;12;depot
""", {"document": "Bon de livraison", "item": "Produit", "packages": "Quantité"}),
    Office("soldes.csv", "organisation_balance", """
Groupe;Au;Solde
0417;2027-02-14;1 120,50
0031;2027-02-14;-3,00
""", {"on": "Au", "owed": "Solde"}),
    Office("commandes.csv", "online_orders", """
N° de commande;Groupe;Membre;Commandé le;Mode de livraison;État;État depuis;Article;Quantité;Montant articles
8001;0417;0417-01;13/02/2027;by_post;placed;13/02/2027;GLA;2;12,00
8002;0031;0031-01;03/02/2027;by_hand;waiting;15/02/2027;HRB;3;21,75
""", {"order": "N° de commande", "packages": "Quantité", "goods_amount": "Montant articles"}),
    Office("inscrits.csv", "roster", """
Groupe,Jeune,Inscrit le
0417,0417-01,13/10/2026
0031,0031-01,03/10/2026
""", {"participant": "Jeune", "registered_on": "Inscrit le"}),
    Office("entregas.csv", "supply", """
Albarán;Grupo;Artículo;Fecha de entrega;Cantidad;Movimiento
A1;0417;GLA;14/02/2027;24;depot
A2;0031;HRB;15/02/2027;12;depot
""", {"document": "Albarán", "item": "Artículo", "packages": "Cantidad"}),
    Office("cobros.csv", "collections", """
Grupo;Fecha de cobro;Importe;Aviso
0417;23/03/2027;120,50;01/03/2027
0031;23/03/2027;80,00;01/03/2027
""", {"on": "Fecha de cobro", "amount": "Importe"}),
    Office("metas.csv", "goals", """
Grupo;Semana hasta;Participante;Meta
0417;2027-02-14;0417-01;60
0417;2027-02-14;0417-02;45
""", {"participant": "Participante", "goal": "Meta"}),
)  # fmt: skip
