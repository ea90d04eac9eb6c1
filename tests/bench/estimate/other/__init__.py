"""A second simulated bank, built on other physics than the demo's, to check the estimate on what it was not made for.

Each plate of each cell has its own potential and crystals; `plates` is the chemistry, `bank` the cells on the wire,
`source` what feeds them, `play` a whole round, `meters` what is seen of it, `kinds` which rounds there are.

Sources of the constants (the rest says 'from memory' or 'common practice, no source' where it stands):

1. Bode, Lead-Acid Batteries, Wiley 1977: potentials of both plates against molality.
2. Schiffer et al., J. Power Sources 168 (2007) 66: gassing 20 mA per 100 Ah at 2.23 V and 25 degC, 11 per volt and 0.06
   per kelvin for the cell; resistance 0.42 ohm Ah on charge.
3. J. Electrochem. Soc. 132 (1985) 2521, recharge of the porous PbO2 electrode: 60 mV a decade at small overpotential,
   180 at large; at constant potential the current grows first and is then proportional to the sulfate left.
4. Navy and Army manuals (NAVEDTRA 14113, TM 9-6140-200-14): finishing voltages and rates, self-discharge.
5. Faraday's constant and stoichiometry; water splitting is thermoneutral at 1.481 V.
"""
