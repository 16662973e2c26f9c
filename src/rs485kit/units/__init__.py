"""The one room that knows pint: text and Quantities in, SI floats inside, Quantities out on request.

Text never reaches pint's parser. It is matched whole against ``NUMBER UNIT [+/- NUMBER %]``, its number is read
as an exact decimal and its unit is looked up in a private table whose factors are exact fractions, so that
"100 ns" gives the very float 1e-7 and "84.2 ohm/km" the very float 0.0842. The bit is a dimension of its own:
hertz, rpm and becquerel are not data rates.
"""

from rs485kit.units.converters import UNITS_OF as UNITS_OF
from rs485kit.units.converters import amperes as amperes
from rs485kit.units.converters import amperes_spread as amperes_spread
from rs485kit.units.converters import bits_per_second as bits_per_second
from rs485kit.units.converters import decibels_per_metre as decibels_per_metre
from rs485kit.units.converters import hertz as hertz
from rs485kit.units.converters import kelvins as kelvins
from rs485kit.units.converters import metres as metres
from rs485kit.units.converters import ohms_spread as ohms_spread
from rs485kit.units.converters import optional_amperes as optional_amperes
from rs485kit.units.converters import optional_amperes_spread as optional_amperes_spread
from rs485kit.units.converters import optional_bits_per_second as optional_bits_per_second
from rs485kit.units.converters import optional_farads as optional_farads
from rs485kit.units.converters import optional_farads_per_metre_spread as optional_farads_per_metre_spread
from rs485kit.units.converters import optional_farads_spread as optional_farads_spread
from rs485kit.units.converters import optional_hertz as optional_hertz
from rs485kit.units.converters import optional_kelvins as optional_kelvins
from rs485kit.units.converters import optional_kelvins_per_watt as optional_kelvins_per_watt
from rs485kit.units.converters import optional_kelvins_spread as optional_kelvins_spread
from rs485kit.units.converters import optional_metres as optional_metres
from rs485kit.units.converters import optional_ohms as optional_ohms
from rs485kit.units.converters import optional_ohms_per_metre_spread as optional_ohms_per_metre_spread
from rs485kit.units.converters import optional_ohms_spread as optional_ohms_spread
from rs485kit.units.converters import optional_radians as optional_radians
from rs485kit.units.converters import optional_ratio as optional_ratio
from rs485kit.units.converters import optional_ratio_spread as optional_ratio_spread
from rs485kit.units.converters import optional_seconds as optional_seconds
from rs485kit.units.converters import optional_seconds_spread as optional_seconds_spread
from rs485kit.units.converters import optional_volts as optional_volts
from rs485kit.units.converters import optional_volts_per_second as optional_volts_per_second
from rs485kit.units.converters import optional_volts_spread as optional_volts_spread
from rs485kit.units.converters import optional_watts as optional_watts
from rs485kit.units.converters import optional_watts_spread as optional_watts_spread
from rs485kit.units.converters import ratio as ratio
from rs485kit.units.converters import ratio_spread as ratio_spread
from rs485kit.units.converters import seconds as seconds
from rs485kit.units.converters import volts as volts
from rs485kit.units.converters import volts_spread as volts_spread
from rs485kit.units.converters import watts as watts
from rs485kit.units.reading import Given as Given
from rs485kit.units.reading import GivenSpread as GivenSpread
from rs485kit.units.reading import HasUnits as HasUnits
from rs485kit.units.reading import MinTypMax as MinTypMax
from rs485kit.units.reading import example_of as example_of
from rs485kit.units.reading import refuse_scaled as refuse_scaled
from rs485kit.units.reading import si as si
from rs485kit.units.reading import spread as spread
from rs485kit.units.reading import wanted as wanted
from rs485kit.units.writing import Quantities as Quantities
from rs485kit.units.writing import text_of as text_of
